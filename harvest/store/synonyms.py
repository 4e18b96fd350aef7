"""Other words that people write above the columns of their tables."""

from __future__ import annotations

# Headers people write for the same thing, besides ours and the columns in other units.
SYNONYMS: dict[str, tuple[str, ...]] = {
    "site": ("place", "location", "orchard"),
    "tree": ("tree_name", "tree_id", "name"),
    "latitude": ("lat",),
    "longitude": ("lon", "lng", "long"),
    "elevation_m": ("altitude_m", "height_m"),
    "timezone": ("time_zone", "tz"),
    "note": ("notes", "comment", "comments", "remark", "remarks"),
    "cultivar": ("variety",),
    "planted": ("planting_date", "date_planted", "planted_on"),
    "removed": ("removal_date", "date_removed"),
    "rootstock": ("stock",),
    "vigour": ("vigor",),
    "pollen_group": ("pollination_group", "flowering_group"),
    "date": ("day", "datetime", "date_time"),
    "tmin_c": ("tmin", "min_temp_c", "temp_min_c"),
    "tmax_c": ("tmax", "max_temp_c", "temp_max_c"),
    "precip_mm": ("precip", "rain_mm", "prcp", "precipitation_mm"),
    "wind_kmh": ("wind", "wind_km_h", "wspd", "wind_speed", "wind_speed_kmh"),
    "wind_m_s": ("wind_ms", "wind_speed_m_s"),
    "bbch": ("stage", "bbch_code", "code"),
    "percent_open": ("open_percent", "percent"),
    "weight_kg": ("kg",),
    "weight_lb": ("lb", "lbs"),
    "fruit_count": ("count", "fruits", "number_of_fruit"),
    "pass": ("pass_number", "picking_pass"),
    "graded_out_kg": ("graded_out", "rejects_kg"),
    "last": ("last_pass", "last_pick"),
    "withholding_days": ("withholding_period", "withholding", "phi_days", "phi"),
    "registration": ("registration_number",),
    "also_reached": ("drift", "drift_to"),
    "re_entry": ("reentry", "re_entry_interval"),
}
