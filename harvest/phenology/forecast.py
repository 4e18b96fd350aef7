"""The as-of forecast: full bloom, ripe and last pick of every tree in the season that is running.

Traits, a frame indexed by tree, say what is known of each tree's kind before its own records:
`usual_bloom` day of season and `usual_bloom_sd` [d], `least_days` from bloom to ripe [d],
`heat_base_c`, `heat_upper_c` [degC, nan none], `prior_days`, `prior_sd_days` from full bloom to
ripe [d], `prior_level` ("cultivar" or "species"), `seasons_elsewhere` of other orchards behind
them, `window_days_low`, `window_days_high` from first to last pick [d].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.phenology.expectation import AVERAGED, Candidate, Expectation, expect
from harvest.phenology.observed import observed_events
from harvest.phenology.past import cultivar_keys, tree_seasons
from harvest.phenology.predictive import plus_duration
from harvest.phenology.report import report
from harvest.phenology.result import EventForecast
from harvest.phenology.running import running_seasons
from harvest.phenology.site_clocks import SiteClocks
from harvest.phenology.window import half_shares, remaining_window, window_lengths
from harvest.records import Records
from harvest.seasons import days_between, season_starts
from harvest.tree_years import with_columns_of

Floats = NDArray[np.float64]

TRAITS = [
    "usual_bloom",
    "usual_bloom_sd",
    "heat_base_c",
    "heat_upper_c",
    "prior_days",
    "prior_sd_days",
    "prior_level",
    "seasons_elsewhere",
    "window_days_low",
    "window_days_high",
]


@dataclass(frozen=True)
class Outlook:
    """What lies ahead of each row: probabilities of the days from the as-of date on.

    `bloom`, `ripe`, `half`, `last`, shape (rows, days): that the event falls on that day, given
    that it has not yet come; `half`, the day by which half of the season's weight is picked, is
    all zero where it is as likely as not past. `bloom_due`, `ripe_due`, shape (rows,): the share
    of such seasons in which it would have come by now.
    """

    rows: pd.DataFrame
    expected: Expectation
    bloom: Floats
    ripe: Floats
    half: Floats
    last: Floats
    bloom_due: Floats
    ripe_due: Floats


def forecast(records: Records, traits: pd.DataFrame) -> list[EventForecast]:
    """Forecast every standing tree's running season, three events each.

    Parameters
    ----------
    records : what was known on the as-of date, with seasons.
    traits : one row per tree, see above.

    Returns one row per tree, season and event, in the order of tree, season, event.
    """
    rows, past = running_and_past(records, traits)
    return report(records, outlook(records, rows, past)) if len(rows) else []


def running_and_past(records: Records, traits: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Rows of the running seasons, and tree-seasons on record; traits joined to both."""
    observed = observed_events(records)
    rows = with_columns_of(traits[TRAITS], running_seasons(records, traits, observed))
    rows["cultivar_key"] = cultivar_keys(rows)
    return rows, with_columns_of(traits[TRAITS], tree_seasons(records, observed))


def outlook(
    records: Records, rows: pd.DataFrame, past: pd.DataFrame, candidate: Candidate = AVERAGED
) -> Outlook:
    """What lies ahead of the rows of `running_seasons`, going by `tree_seasons`; traits joined.

    `candidate`: as for `expect`.
    """
    clocks = SiteClocks(records)
    rows = rows.assign(**_weather_behind(rows, clocks))
    expected = expect(rows, past, clocks, candidate)
    first = int(clocks.as_of.astype(np.int64))
    horizon = expected.ripe.horizon(first, rows["window_days_high"].to_numpy(dtype=float))
    bloom, bloom_due = expected.bloom.days(first, horizon)
    ripe, ripe_due = expected.ripe.days(first, horizon)
    half, last = _picking(records, rows, past, ripe)
    return Outlook(rows, expected, bloom, ripe, half, last, bloom_due, ripe_due)


def _weather_behind(
    rows: pd.DataFrame, clocks: SiteClocks
) -> dict[str, NDArray[np.generic] | list[str]]:
    """What the weather at each row's site is worth.

    `filled`: days since bloom without a measured temperature; `missing`: days since bloom, or
    since the season's start where it has not bloomed, that no rule filled; `heat_counted`: whether
    heat is counted; `short_record`: what is to be said where the site's own record is short.
    """
    filled, missing = np.zeros((2, len(rows)), dtype=np.int64)
    counted = np.zeros(len(rows), dtype=bool)
    bloom = rows["bloom"].to_numpy()
    start = season_starts(rows["season"].to_numpy(), rows["latitude"].to_numpy())
    since = np.where(np.isnat(bloom), start.astype(bloom.dtype), bloom)
    short = {str(site): clocks.short_record(str(site)) for site in rows["site"].unique()}
    for site, at in rows.groupby("site").indices.items():
        lacking = clocks.unmeasured(str(site), since[at])
        filled[at] = np.where(np.isnat(bloom[at]), 0, lacking.filled)
        missing[at] = lacking.missing
        counted[at] = clocks.has_weather(str(site)) & (lacking.missing == 0)
    said = [short[str(site)] for site in rows["site"]]
    return {"filled": filled, "missing": missing, "heat_counted": counted, "short_record": said}


def _picking(
    records: Records, rows: pd.DataFrame, past: pd.DataFrame, ripe: Floats
) -> tuple[Floats, Floats]:
    """Day probabilities of half of the weight and of the last pick.

    The ripe date, seen or forecast, plus the window or the share of it.
    """
    over = past[past["window_days"].notna()]
    mean, sd = window_lengths(over, rows)
    share = half_shares(over, rows)
    half, last = plus_duration(ripe, share * mean, share * sd), plus_duration(ripe, mean, sd)
    seen = rows["ripe"].notna().to_numpy()
    if seen.any():
        ripe_on = rows["ripe"].to_numpy()[seen]
        since = days_between(ripe_on, np.datetime64(records.as_of, "D"))
        mean, sd, share = mean[seen], sd[seen], share[seen]
        half[seen] = remaining_window(since, share * mean, share * sd, ripe.shape[1])
        half[np.flatnonzero(seen)[since >= share * mean]] = 0.0
        last[seen] = remaining_window(since, mean, sd, ripe.shape[1])
    return half, last
