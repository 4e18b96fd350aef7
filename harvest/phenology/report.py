"""From probabilities to what a person reads: dates, weeks, what it rests on, and warnings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.phenology.predictive import quantile_dates, week_shares
from harvest.phenology.result import Basis, EventForecast, EventName, Status, WeekShare
from harvest.records import Records
from harvest.seasons import leaf, season_label

if TYPE_CHECKING:
    from harvest.phenology.forecast import Outlook

HEAT_MODEL = "days from bloom by pooled seasons, heat by several clocks"
DAY_MODEL = "days from bloom by pooled seasons, no weather"
BLOOM_MODEL = "thermal time from several starts, pooled seasons"
BLOOM_DAY_MODEL = "usual bloom day by pooled seasons, no weather"
# Beyond these shares a person should look at the tree before trusting the date.
MUCH_FILLED = 0.1
OVERDUE = 0.95
# Beyond this one the event has most likely come and was not logged.
MISSED = 0.995
# The same for a ripe date that hangs on a bloom nobody logged.
MISSED_UNSEEN = 0.8
# The same for a bloom of a species of which nobody ever logged a stage at the site, so that silence
# says little of the tree; not sooner, as the frost watch goes on to three weeks after bloom.
BLOOM_UNSEEN = 0.95
FEW_SEASONS = 3


@dataclass(frozen=True)
class _Told:
    """Dates and weeks of one event for every row."""

    dates: list[dict[float, date]]
    weeks: list[tuple[WeekShare, ...]]


@dataclass(frozen=True)
class _Said:
    """Status of one event of one row, the day it was seen, and what to know about it."""

    status: Status
    seen: date | None
    notes: tuple[str, ...]


def report(records: Records, ahead: Outlook) -> list[EventForecast]:
    """Three events of each row, forecast, observed or unknown with the reason."""
    first = records.as_of
    told: dict[EventName, _Told] = {
        "full bloom": _Told(quantile_dates(ahead.bloom, first), week_shares(ahead.bloom, first)),
        "ripe": _Told(quantile_dates(ahead.ripe, first), week_shares(ahead.ripe, first)),
        "last pick": _Told(quantile_dates(ahead.last, first), week_shares(ahead.last, first)),
    }
    half = quantile_dates(ahead.half, first)
    weather_to = _weather_to(records)
    facts = ahead.rows.assign(
        seasons=ahead.expected.seasons,
        trees=ahead.expected.trees,
        bloom_seasons=ahead.expected.bloom_seasons,
        bloom_due=ahead.bloom_due,
        ripe_due=ahead.ripe_due,
    )
    facts["bloom_missed"] = _bloom_missed(facts, records)
    out = []
    for index, row in enumerate(facts.to_dict("records")):
        for event, said in _events(row, records).items():
            foretold = said.status == "forecast"
            out.append(
                EventForecast(
                    tree=row["tree"],
                    site=row["site"],
                    species=row["species"],
                    cultivar=row["cultivar"],
                    season=int(row["season"]),
                    event=event,
                    status=said.status,
                    observed=said.seen,
                    quantiles=told[event].dates[index] if foretold else {},
                    weeks=told[event].weeks[index] if foretold else (),
                    basis=_basis(row, event, weather_to.get(str(row["site"]))),
                    warnings=said.notes,
                    half_picked=half[index]
                    if event == "last pick" and foretold and ahead.half[index].any()
                    else {},
                )
            )
    return out


def by_weeks(
    events: Sequence[EventForecast], records: Records, ahead: Outlook, begins: int
) -> list[EventForecast]:
    """A report with the chances of weeks that begin on another weekday than Monday."""
    first = records.as_of
    shares: dict[EventName, list[tuple[WeekShare, ...]]] = {
        "full bloom": week_shares(ahead.bloom, first, begins),
        "ripe": week_shares(ahead.ripe, first, begins),
        "last pick": week_shares(ahead.last, first, begins),
    }
    return [
        replace(each, weeks=shares[each.event][at // len(shares)]) if each.weeks else each
        for at, each in enumerate(events)
    ]


def _bloom_missed(facts: pd.DataFrame, records: Records) -> NDArray[np.bool_]:
    """Whether each row's full bloom has most likely come and was not logged."""
    kind = ["site", "species"]
    trees = records.trees[records.trees["tree"].isin(records.stages["tree"])]
    logged = pd.MultiIndex.from_frame(facts[kind]).isin(pd.MultiIndex.from_frame(trees[kind]))
    most = np.where(logged, MISSED, BLOOM_UNSEEN)
    return np.asarray(facts["bloom_due"].to_numpy() > most)


def _date(moment: object) -> date | None:
    return moment.date() if isinstance(moment, pd.Timestamp) else None


def _weather_to(records: Records) -> dict[str, date]:
    known = records.weather.dropna(subset=["tmin_c", "tmax_c"])
    return {str(site): last.date() for site, last in known.groupby("site")["date"].max().items()}


def _basis(row: dict[Any, Any], event: EventName, weather_to: date | None) -> Basis:
    if event == "full bloom":
        seasons, models = int(row["bloom_seasons"]), (BLOOM_MODEL, BLOOM_DAY_MODEL)
    else:
        seasons, models = int(row["seasons"]), (HEAT_MODEL, DAY_MODEL)
    return Basis(
        model=models[0] if row["heat_counted"] else models[1],
        seasons=seasons,
        trees=int(row["trees"]),
        prior="own record" if seasons else row["prior_level"],
        weather_to=weather_to,
        filled_days=int(row["filled"]),
    )


def _events(row: dict[Any, Any], records: Records) -> dict[EventName, _Said]:
    bloom = _bloom(row)
    crop_over = _crop_over(row)
    notes = tuple(_notes(row, records))
    ripe = _date(row["ripe"])
    if ripe:
        said_ripe = _Said("observed", ripe, ())
    elif crop_over:
        said_ripe = _Said("unknown", None, (crop_over,))
    else:
        said_ripe = _Said("forecast", None, notes)
    last = _date(row["finished"])
    if last:
        said_last = _Said("observed", last, ())
    elif crop_over:
        said_last = _Said("unknown", None, (crop_over,))
    else:
        said_last = _Said("forecast", None, () if ripe else notes)
    return {"full bloom": bloom, "ripe": said_ripe, "last pick": said_last}


def _bloom(row: dict[Any, Any]) -> _Said:
    if row["own_bloom"] and row["bloom_trees"] == 0:
        return _Said("observed", _date(row["bloom"]), ())
    season = season_label(int(row["season"]), float(row["latitude"]))
    if row["own_bloom"] or _date(row["ripe"]) or row["bloom_missed"] or row["back"]:
        why = f"No full bloom (BBCH 65) was logged for this tree in season {season}."
        return _Said("unknown", None, (why,))
    notes = []
    if row["bloom_seasons"] == 0:
        notes.append(
            f"No past bloom of {row['cultivar']} is on record; this rests on the usual bloom of "
            f"{row['species']} at this latitude, so the span is wide."
        )
    notes += _weather_notes(row, "so this season's warmth is not counted")
    if row["bloom_due"] > OVERDUE:
        notes.append(
            f"In {row['bloom_due']:.0%} of such seasons it would be in full bloom by now: look at "
            "the tree, and log what you find."
        )
    return _Said("forecast", None, tuple(notes))


def _crop_over(row: dict[Any, Any]) -> str:
    """Why there is no ripe date to forecast, or nothing."""
    if stripped := _date(row["stripped"]):
        return f"All fruit was stripped on {stripped.day} {stripped:%b %Y}."
    if logged := _date(row["no_crop"]):
        return f"No crop this season, logged on {logged.day} {logged:%b %Y}."
    if begun := _begun_too_late(row):
        return begun
    missed = MISSED if row["own_bloom"] else MISSED_UNSEEN
    if not _date(row["ripe"]) and row["ripe_due"] > missed:
        return (
            "It should have been ripe some time ago, but neither ripe (BBCH 87) nor a pick is "
            "logged."
        )
    return ""


def _begun_too_late(row: dict[Any, Any]) -> str:
    """Whether a tree was planted or grafted over too late to bear this season, or nothing.

    A graft bears nothing in its first leaf, nor does a tree that was set after the bloom and whose
    own flowers nobody logged (common practice, no source).
    """
    planted = _date(row["planted"])
    if planted is None:
        return ""
    season, latitude = int(row["season"]), float(row["latitude"])
    old = leaf(planted, season, latitude)
    label = season_label(season, latitude)
    if _date(row["grafted"]):
        on = f"Grafted over on {planted.day} {planted:%b %Y}"
        return f"{on}: the new wood bears no fruit in season {label}." if old <= 1 else ""
    bloom = _date(row["bloom"])
    flowered = row["own_bloom"] and row["bloom_trees"] == 0
    if flowered or not (old < 1 or (bloom is not None and bloom < planted)):
        return ""
    return f"Planted on {planted.day} {planted:%b %Y}, after the bloom of season {label}."


def _notes(row: dict[Any, Any], records: Records) -> list[str]:
    """What a person should know before they trust the ripe date."""
    notes = _bloom_notes(row)
    seasons = int(row["seasons"])
    if seasons == 0:
        known = row["cultivar"] if row["prior_level"] == "cultivar" else row["species"]
        others = int(row["seasons_elsewhere"])
        if others:
            known += f" and on {others} season{'s' if others > 1 else ''} of other orchards"
        notes.append(
            f"No past season of {row['cultivar']} is on record with bloom and ripe dates; "
            f"this rests on what is generally known of {known}, so the span is wide."
        )
    elif seasons < FEW_SEASONS:
        plural = "s" if seasons > 1 else ""
        notes.append(f"Only {seasons} past season{plural} of {row['cultivar']} on record.")
    notes += _weather_notes(row, "so this counts plain days from bloom")
    if row["heat_counted"] and row["own_bloom"]:
        since = np.datetime64(records.as_of, "D") - np.datetime64(row["bloom"], "D")
        days = max(int(since.astype(int)), 1)
        if row["filled"] > MUCH_FILLED * days:
            notes.append(
                f"{int(row['filled'])} of the {days} days since bloom have no measured "
                "temperature at this site; they were filled by the site's gap rules."
            )
    if row["ripe_due"] > OVERDUE:
        notes.append(
            f"In {row['ripe_due']:.0%} of such seasons it would be ripe by now: look at the tree, "
            "and log what you find."
        )
    return notes


def _weather_notes(row: dict[Any, Any], then: str) -> list[str]:
    """What is wanting in the weather of the row's site."""
    if row["missing"]:
        since = "bloom" if row["own_bloom"] else "the season's start"
        return [
            f"{int(row['missing'])} days since {since} have no temperature, and the site's gap "
            f"rules fill none of them, {then}."
        ]
    if not row["heat_counted"]:
        return [f"No weather is on record at this site, {then}."]
    return [row["short_record"]] if row["short_record"] else []


def _bloom_notes(row: dict[Any, Any]) -> list[str]:
    if row["bloom_trees"]:
        trees = f"{row['bloom_trees']} other {row['cultivar']} tree"
        plural = "s" if row["bloom_trees"] > 1 else ""
        return [f"This tree's bloom is not logged; the date of {trees}{plural} here is used."]
    if not row["own_bloom"]:
        if row["bloom_missed"] or row["back"]:
            return ["Full bloom was not logged; its date is worked out from weather and records."]
        return ["No full bloom is logged yet; this runs on the forecast of its bloom."]
    return []
