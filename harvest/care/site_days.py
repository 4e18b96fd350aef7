"""The days of each site, read from the records: measured, made whole, and forecast."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from harvest.records import Records
from harvest.weather.daily import TEMPERATURES, Daily, on_calendar
from harvest.weather.gaps import DEFAULT_RULES
from harvest.weather.hours import day_hours
from harvest.weather.site_record import SiteRecords


def measured(records: Records) -> dict[str, Daily]:
    """The weather on record of each site that has any, with the hours measured there."""
    hours = records.weather_hours
    by_site = {} if hours is None else dict(tuple(hours.groupby("site")))
    found = {}
    for site, rows in records.weather.groupby("site"):
        read = day_hours(by_site[site]) if site in by_site else None
        found[str(site)] = replace(on_calendar(rows), hours=read)
    return found


def made_whole(records: Records, site: str) -> Daily | None:
    """A site's days with gaps filled by its rules, from its first measured day to the as-of day.

    Rain and wind are never filled. None where no day of the site has both temperatures.
    """
    rows = records.weather[records.weather["site"] == site].dropna(subset=list(TEMPERATURES))
    if rows.empty:
        return None
    rules = records.gap_rules.get(site, DEFAULT_RULES)
    places = SiteRecords(records.sites, records.weather)
    whole = places.whole(site, np.datetime64(records.as_of, "D"), rules)
    assert whole is not None  # the site has days of its own
    days, first = whole.days, rows["date"].min().date()
    return days.between(first, len(days) - days.position(first))


def forecast(records: Records) -> dict[str, Daily]:
    """What is forecast from the as-of day on: of each day ahead its latest issue."""
    ahead = records.weather_ahead
    coming = ahead[ahead["date"] >= pd.Timestamp(records.as_of)].sort_values(["date", "issued"])
    latest = coming.drop_duplicates(["site", "date"], keep="last")
    return {str(site): on_calendar(rows) for site, rows in latest.groupby("site")}
