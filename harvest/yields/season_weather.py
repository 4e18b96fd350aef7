"""Winter chill and the weather of the bloom, site by site and season by season."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import pandas as pd

from harvest.records import Records
from harvest.seasons import ONE_DAY, Dates, season_starts
from harvest.thermal import chill_portions
from harvest.weather.daily import TEMPERATURES, Daily, on_calendar
from harvest.weather.gaps import DEFAULT_RULES
from harvest.weather.hours import day_hours, hours_of, on_one_level
from harvest.weather.site_record import SiteRecords

# Chill is counted from the third month before the season's start to its second month's end
# (October to February in the north, April to August in the south) [d from the season's start].
CHILL_FROM, CHILL_DAYS = -92, 151
# Share of the days that must be measured; the others are filled by the site's gap rules.
LEAST_KNOWN = 0.97
# Days from full bloom in which the flowers must be visited [d].
BLOOM_FROM, BLOOM_TO = -3, 6
WET_MM = 1.0


@dataclass(frozen=True)
class SiteSeries:
    """Daily weather of a site as it was measured, and with the gaps filled by the site's rules."""

    latitude: float
    seen: Daily
    whole: Daily


def site_series(records: Records) -> dict[str, SiteSeries]:
    """Weather of every site with a day on record."""
    latitude = records.sites.set_index("site")["latitude"]
    found = {}
    places, hours = SiteRecords(records.sites, records.weather), records.weather_hours
    by_site = {} if hours is None else dict(tuple(hours.groupby("site")))
    for site, rows in records.weather.groupby("site"):
        own = day_hours(by_site[site]) if site in by_site else None
        seen = replace(on_calendar(rows), hours=own)
        rules = records.gap_rules.get(str(site), DEFAULT_RULES)
        filled = places.whole(str(site), seen.start + len(seen), rules)
        whole = seen if filled is None else filled.days.between(seen.start, len(seen))
        found[str(site)] = SiteSeries(float(latitude[site]), seen, whole)
    return found


def winter_chill(series: SiteSeries, seasons: list[int]) -> dict[int, float]:
    """Chill portions (Dynamic Model) of the winter before each season, where it is on record."""
    if not seasons:
        return {}
    first = season_starts(seasons, series.latitude) + np.timedelta64(CHILL_FROM, "D")
    seen = sum(series.seen.windows(name, first, CHILL_DAYS) for name in TEMPERATURES)
    low, high = (series.whole.windows(name, first, CHILL_DAYS) for name in TEMPERATURES)
    known = (~np.isnan(seen)).mean(axis=1) >= LEAST_KNOWN
    known &= ~np.isnan(low + high).any(axis=1)
    low, high = low[known], high[known]
    if not known.any():
        return {}
    days = first[known][:, None] + np.arange(CHILL_DAYS)
    new_year = days.astype("datetime64[Y]").astype("datetime64[D]")
    day_of_year = (days - new_year) / ONE_DAY + 1
    measured = None if series.seen.hours is None else series.seen.hours.on(days)
    hours = hours_of(low, high, series.latitude, day_of_year)
    slot = day_of_year.astype(np.int64) - 1
    total = on_one_level(partial(chill_portions, every=24), hours, measured, slot)[:, -1]
    which = np.array(seasons)[known].tolist()
    return dict(zip(which, np.asarray(total, dtype=float).tolist(), strict=True))


def bloom_weather(series: SiteSeries, blooms: Dates) -> pd.DataFrame:
    """Weather from 3 days before to 6 days after each full bloom, columns `tmax_c`, `wet_days`.

    `usual_tmax_c` is the mean of the same days of the year over all years on record, `years` their
    number. nan where a day of the window is missing.
    """
    days = BLOOM_TO - BLOOM_FROM + 1
    bloom: Dates = blooms.astype("datetime64[D]")
    first: Dates = bloom + BLOOM_FROM * ONE_DAY
    seen = series.seen
    warm = seen.windows("tmax_c", first, days).mean(axis=1)
    rain = seen.windows("precip_mm", first, days)
    wet = np.where(np.isnan(rain).any(axis=1), np.nan, (rain >= WET_MM).sum(axis=1))
    years = len(seen) // 365 + 1
    into = first - first.astype("datetime64[Y]").astype("datetime64[D]")
    start = seen.start.astype("datetime64[Y]") + np.arange(years + 1)
    all_first = start.astype("datetime64[D]")[:, None] + into
    each = seen.windows("tmax_c", all_first.ravel(), days).mean(axis=1)
    each = each.reshape(all_first.shape)
    known = (~np.isnan(each)).sum(axis=0)
    total = np.nansum(each, axis=0)
    usual = np.divide(total, known, out=np.full(len(first), np.nan), where=known > 0)
    return pd.DataFrame({"tmax_c": warm, "wet_days": wet, "usual_tmax_c": usual, "years": known})
