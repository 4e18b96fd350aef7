"""The as-of forecast: full bloom, ripe and last pick of every tree in the season that is running.

Ripe: degree days from full bloom (single sine, Baskerville & Emin 1969) reach the requirement of
the tree's cultivar; the heat to come is that of the site's past years. Where a site has no
weather to count, days from bloom take the place of degree days.

Traits, a frame indexed by tree, say what is known of each tree's kind: `usual_bloom` day of
season [d], `least_days` [d], `heat_base_c`, `heat_upper_c` [degC, nan none], `prior_days`,
`prior_sd_days` from full bloom to ripe [d], `prior_level` ("cultivar" or "species"),
`window_days_low`, `window_days_high` from first to last pick [d].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.phenology.clock import Clock, DayClock, HeatClock
from harvest.phenology.observed import observed_events
from harvest.phenology.predictive import day_probabilities, plus_duration
from harvest.phenology.report import report
from harvest.phenology.requirement import requirements
from harvest.phenology.result import EventForecast
from harvest.phenology.running import running_seasons
from harvest.phenology.site_weather import HORIZON_DAYS, site_weather
from harvest.phenology.window import window_lengths
from harvest.records import Records
from harvest.seasons import ONE_DAY

Floats = NDArray[np.float64]
ClockKey = tuple[str, float, float]

CASE = ["site", "species", "cultivar", "season", "bloom"]
TRAITS = ["heat_base_c", "heat_upper_c", "prior_days", "prior_sd_days", "prior_level"]
WINDOW = ["window_days_low", "window_days_high"]
# Picking counts as over this long after the last pass [d], where none was marked as the last.
REST_DAYS = 45


@dataclass(frozen=True)
class Outlook:
    """What lies ahead of each case (trees of a cultivar on a site that bloomed on one day).

    Arrays of shape (cases, days) from the as-of date on hold the probability that the fruit is
    ripe, or the last of it is picked, on each day.
    """

    cases: pd.DataFrame
    ripe: Floats
    last: Floats


def forecast(records: Records, traits: pd.DataFrame) -> list[EventForecast]:
    """Forecast every standing tree's running season, three events each.

    Parameters
    ----------
    records : what was known on the as-of date, with seasons.
    traits : one row per tree, see above.

    Returns one row per tree, season and event, in the order of tree, season, event.
    """
    rows = running_seasons(records, traits)
    rows = rows.join(traits[[*TRAITS, *WINDOW]], on="tree")
    rows["cultivar_key"] = rows["species"] + "|" + rows["cultivar"].str.casefold()
    return report(records, rows, outlook(records, rows, traits))


def outlook(records: Records, rows: pd.DataFrame, traits: pd.DataFrame) -> Outlook:
    """Probabilities of the days ahead for the rows whose fruit has bloomed and still hangs."""
    clocks = _clocks(records, traits)
    past = _past(records, traits, clocks)
    hanging = rows["bloom"].notna() & rows[["stripped", "no_crop", "finished"]].isna().all(axis=1)
    cases = rows[hanging].drop_duplicates([*CASE, "first_pick", "ripe"]).reset_index(drop=True)
    cases["mode"] = _modes(cases, clocks)
    ripe = np.zeros((len(cases), HORIZON_DAYS))
    told: list[pd.DataFrame] = []
    for mode in ("heat", "days"):
        chosen = np.flatnonzero(cases["mode"] == mode)
        if chosen.size:
            part = cases.iloc[chosen]
            days, facts = _ripe_days(part, past[past[mode].notna()], mode, clocks, records)
            ripe[chosen] = days
            told.append(facts.set_index(part.index))
    cases = cases.join(pd.concat(told)) if told else cases
    return Outlook(cases, ripe, _last_days(records, cases, past, ripe))


def _clocks(records: Records, traits: pd.DataFrame) -> dict[ClockKey, HeatClock]:
    """A heat clock for each site with weather and each pair of base and cut-off grown there."""
    kinds = records.trees[["tree", "site"]].join(traits[TRAITS[:2]], on="tree")
    kinds = kinds[["site", *TRAITS[:2]]].drop_duplicates()
    found: dict[ClockKey, HeatClock] = {}
    for site, wanted in kinds.groupby("site"):
        weather = site_weather(
            records.weather[records.weather["site"] == site], np.datetime64(records.as_of, "D")
        )
        if weather is None:
            continue
        for base, upper in zip(wanted["heat_base_c"], wanted["heat_upper_c"], strict=True):
            clock = HeatClock(weather, base, None if np.isnan(upper) else upper)
            found[_clock_key(str(site), base, upper)] = clock
    return found


def _clock_key(site: str, base: float, upper: float) -> ClockKey:
    return site, float(base), -999.0 if np.isnan(upper) else float(upper)


def _by_clock(rows: pd.DataFrame) -> list[tuple[ClockKey, NDArray[np.int64]]]:
    """Positions of the rows that go by the same clock."""
    key = rows[["site", *TRAITS[:2]]].reset_index(drop=True)
    groups = key.groupby(["site", *TRAITS[:2]], dropna=False).indices
    return [(_clock_key(*name), np.asarray(at)) for name, at in groups.items()]  # type: ignore[misc]


def _modes(cases: pd.DataFrame, clocks: dict[ClockKey, HeatClock]) -> NDArray[np.str_]:
    """ "heat" where the weather since bloom is on record, else "days"."""
    mode = np.full(len(cases), "days", dtype="<U4")
    for key, at in _by_clock(cases):
        if key in clocks:
            bloom = cases["bloom"].to_numpy()[at].astype("datetime64[D]")
            mode[at[clocks[key].knows(bloom)]] = "heat"
    return mode


def _past(
    records: Records, traits: pd.DataFrame, clocks: dict[ClockKey, HeatClock]
) -> pd.DataFrame:
    """Tree-seasons that have been ripe: progress from bloom to ripe in `heat` and in `days`.

    Also `window_days`, ripe to last pick, of those whose picking is over.
    """
    past = observed_events(records).reset_index()
    past = past.merge(records.trees[["tree", "site", "species", "cultivar"]], on="tree")
    past = past.join(traits[TRAITS], on="tree")
    past["cultivar_key"] = past["species"] + "|" + past["cultivar"].str.casefold()
    bloom = past["bloom"].to_numpy().astype("datetime64[D]")
    ripe = past["ripe"].to_numpy().astype("datetime64[D]")
    both = ~np.isnat(bloom) & ~np.isnat(ripe)
    both[both] = ripe[both] > bloom[both]
    past["days"] = np.nan
    past["heat"] = np.nan
    past.loc[both, "days"] = DayClock().between(bloom[both], ripe[both])
    heat = np.full(len(past), np.nan)
    for key, at in _by_clock(past):
        use = at[both[at]]
        if key in clocks and use.size:
            heat[use] = clocks[key].between(bloom[use], ripe[use])
    past["heat"] = heat
    rested = np.datetime64(records.as_of, "s") - past["last_pick"] > np.timedelta64(REST_DAYS, "D")
    over = (past["finished"].notna() | rested) & (past["last_pick"] > past["ripe"])
    length = (past["last_pick"] - past["ripe"]).dt.days.astype(float)
    past["window_days"] = length.where(over)
    return past


def _ripe_days(
    cases: pd.DataFrame,
    past: pd.DataFrame,
    mode: str,
    clocks: dict[ClockKey, HeatClock],
    records: Records,
) -> tuple[Floats, pd.DataFrame]:
    """Day probabilities of cases that go by the same kind of clock, and what they rest on."""
    bloom = cases["bloom"].to_numpy().astype("datetime64[D]")
    days, spread = (cases[name].to_numpy(dtype=float) for name in ("prior_days", "prior_sd_days"))
    mean, sd = days.copy(), spread.copy()
    before = (np.datetime64(records.as_of, "D") - bloom) / ONE_DAY - 1.0
    by_clock: list[tuple[Clock, NDArray[np.int64]]] = []
    filled = np.zeros(len(cases), dtype=np.int64)
    names = np.empty(len(cases), dtype=object)
    for key, at in _by_clock(cases):
        clock: Clock = clocks[key] if mode == "heat" else DayClock()
        mean[at], sd[at] = clock.usual(bloom[at], days[at], spread[at])
        if isinstance(clock, HeatClock):
            before[at] = clock.so_far(bloom[at])
        filled[at], names[at] = clock.filled(bloom[at]), clock.name
        by_clock.append((clock, at))
    priors = pd.DataFrame({"cultivar_key": cases["cultivar_key"], "mean": mean, "sd": sd})
    need = requirements(past.assign(progress=past[mode]), priors)
    ripe = np.zeros((len(cases), HORIZON_DAYS))
    already = np.zeros(len(cases))
    for clock, at in by_clock:
        ripe[at], already[at] = day_probabilities(before[at], clock.ahead, need.take(at))
    facts = pd.DataFrame(
        {
            "model": names,
            "seasons": need.seasons,
            "trees": need.trees,
            "filled": filled,
            "already": already,
            "progress": before,
            "requirement": need.mean,
        }
    )
    return ripe, facts


def _last_days(records: Records, cases: pd.DataFrame, past: pd.DataFrame, ripe: Floats) -> Floats:
    """Day probabilities of the last pick: the ripe date, seen or forecast, plus the window."""
    if cases.empty:
        return ripe
    mean, sd = window_lengths(past[past["window_days"].notna()], cases)
    last = plus_duration(ripe, mean, sd)
    seen = cases["ripe"].notna().to_numpy()
    if seen.any():
        ripe_on = cases["ripe"].to_numpy()[seen].astype("datetime64[D]")
        since = (np.datetime64(records.as_of, "D") - ripe_on) / ONE_DAY
        last[seen] = remaining_window(since, mean[seen], sd[seen])
    return last


def remaining_window(since: Floats, mean: Floats, sd: Floats) -> Floats:
    """Day probabilities of the last pick, given that picking began `since` days ago [d].

    `mean`, `sd` of the window's length [d], shape (n,); returns shape (n, HORIZON_DAYS).
    """
    from scipy.special import ndtr

    steps = since[:, None] + np.arange(-1, HORIZON_DAYS) + 0.5
    upto = ndtr((steps - mean[:, None]) / np.maximum(sd, 0.3)[:, None])
    left = np.maximum(1.0 - upto[:, :1], 1e-12)
    days = np.clip(np.diff(upto, axis=1) / left, 0.0, 1.0)
    days[:, -1] += np.maximum(1.0 - days.sum(axis=1), 0.0)
    return days
