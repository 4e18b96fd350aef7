"""From probabilities to what a person reads: dates, weeks, what it rests on, and warnings."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from harvest.phenology.predictive import quantile_dates, week_shares
from harvest.phenology.result import Basis, EventForecast, EventName
from harvest.records import Records

if TYPE_CHECKING:
    from harvest.phenology.forecast import Outlook

CASE_KEYS = ("site", "species", "cultivar", "season", "bloom", "first_pick", "ripe")
# Beyond these a person should look at the tree before trusting the date.
MUCH_FILLED = 0.1
OVERDUE = 0.95
LONG_OVERDUE = 0.999
FEW_SEASONS = 3


def report(records: Records, rows: pd.DataFrame, ahead: Outlook) -> list[EventForecast]:
    """Three events of each row, forecast, observed or unknown with the reason."""
    first = records.as_of
    facts = {
        _case_of(case): (index, case) for index, case in enumerate(ahead.cases.to_dict("records"))
    }
    told = {
        "ripe": list(zip(quantile_dates(ahead.ripe, first), week_shares(ahead.ripe, first), strict=True)),
        "last pick": list(
            zip(quantile_dates(ahead.last, first), week_shares(ahead.last, first), strict=True)
        ),
    }  # fmt: skip
    weather_to = _weather_to(records)
    out = []
    for row in rows.to_dict("records"):
        index, case = facts.get(_case_of(row), (None, row))
        basis = _basis(case, weather_to.get(str(row["site"])))
        for event, status, seen, warnings in _events(row, case, index, records):
            dates, weeks = (
                told[event][index] if status == "forecast" and index is not None else ({}, ())
            )
            out.append(
                EventForecast(
                    tree=row["tree"],
                    site=row["site"],
                    species=row["species"],
                    cultivar=row["cultivar"],
                    season=int(row["season"]),
                    event=event,
                    status=status,
                    observed=seen,
                    quantiles=dates,
                    weeks=weeks,
                    basis=basis,
                    warnings=tuple(warnings),
                )
            )
    return out


def _case_of(row: dict[Any, Any]) -> tuple[object, ...]:
    return tuple(None if row[name] is pd.NaT else row[name] for name in CASE_KEYS)


def _date(moment: object) -> date | None:
    return moment.date() if isinstance(moment, pd.Timestamp) else None


def _weather_to(records: Records) -> dict[str, date]:
    known = records.weather.dropna(subset=["tmin_c", "tmax_c"])
    return {str(site): last.date() for site, last in known.groupby("site")["date"].max().items()}


def _basis(case: dict[Any, Any], weather_to: date | None) -> Basis:
    if "model" not in case:
        return Basis("none", 0, 0, "none", weather_to, 0)
    seasons = int(case["seasons"])
    return Basis(
        model=case["model"],
        seasons=seasons,
        trees=int(case["trees"]),
        prior="own record" if seasons else case["prior_level"],
        weather_to=weather_to,
        filled_days=int(case["filled"]),
    )


_Row = tuple[EventName, Any, date | None, list[str]]


def _events(
    row: dict[Any, Any], case: dict[Any, Any], index: int | None, records: Records
) -> Iterator[_Row]:
    """Status, date seen and warnings of each event of one row."""
    season = row["season"]
    own_bloom = _date(row["bloom"]) if row["bloom_trees"] == 0 else None
    if own_bloom:
        yield "full bloom", "observed", own_bloom, []
    else:
        why = f"No full bloom (BBCH 65) is logged for this tree in season {season}."
        yield "full bloom", "unknown", None, [why]
    ended = _ended(row)
    ripe, last = _date(row["ripe"]), _date(row["finished"])
    notes = _notes(row, case, records) if index is not None else []
    gone = index is not None and case["already"] > LONG_OVERDUE and ripe is None
    if ripe:
        yield "ripe", "observed", ripe, []
    elif ended or index is None or gone:
        yield "ripe", "unknown", None, [ended or _why_unknown(row, gone)]
    else:
        yield "ripe", "forecast", None, notes
    if last:
        yield "last pick", "observed", last, []
    elif ended or index is None or gone:
        yield "last pick", "unknown", None, [ended or _why_unknown(row, gone)]
    else:
        yield "last pick", "forecast", None, notes


def _ended(row: dict[Any, Any]) -> str:
    """Why there is no crop to forecast, or nothing."""
    if _date(row["stripped"]):
        return f"All fruit was stripped on {_date(row['stripped'])}."
    if _date(row["no_crop"]):
        return f"No crop this season, logged on {_date(row['no_crop'])}."
    return ""


def _why_unknown(row: dict[Any, Any], gone: bool) -> str:
    if gone:
        return "It should have been ripe some time ago, but neither ripe (BBCH 87) nor a pick is logged."
    return (
        f"No full bloom (BBCH 65) is logged for season {row['season']}, "
        "and the ripening forecast counts from it. Log the bloom date."
    )


def _notes(row: dict[Any, Any], case: dict[Any, Any], records: Records) -> list[str]:
    """What a person should know before they trust the dates."""
    notes = []
    if row["bloom_trees"]:
        trees = f"{row['bloom_trees']} other {row['cultivar']} tree"
        plural = "s" if row["bloom_trees"] > 1 else ""
        notes.append(f"This tree's bloom is not logged; the date of {trees}{plural} here is used.")
    seasons = int(case["seasons"])
    if seasons == 0:
        known = row["cultivar"] if case["prior_level"] == "cultivar" else row["species"]
        notes.append(
            f"No past season of {row['cultivar']} is on record with bloom and ripe dates; "
            f"this rests on what is generally known of {known}, so the span is wide."
        )
    elif seasons < FEW_SEASONS:
        notes.append(
            f"Only {seasons} past season{'s' * (seasons > 1)} of {row['cultivar']} on record."
        )
    since = (np.datetime64(records.as_of, "s") - np.datetime64(row["bloom"])) / np.timedelta64(
        1, "D"
    )
    if case["filled"] > MUCH_FILLED * max(since, 1.0):
        notes.append(
            f"{int(case['filled'])} of the {int(since)} days since bloom have no measured "
            "temperature; they were filled with the site's usual one for the day."
        )
    if case["mode"] == "days":
        notes.append(
            "No weather to count heat with since bloom; this counts plain days from bloom."
        )
    if case["already"] > OVERDUE:
        notes.append(
            f"By now {case['already']:.0%} of such seasons would have been ripe: look at the tree, "
            "and log what you find."
        )
    return notes
