"""Filling days that are missing, by rules with names that the caller chooses and puts in order.

Nothing measured is ever changed, every filled day is marked with the rule that filled it, and
rain is never filled.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from harvest.errors import QuantityError
from harvest.weather.daily import TEMPERATURES, YEAR_SLOTS, Bools, Daily, Floats, day_slot
from harvest.weather.neighbours import brought_to

LONGEST_INTERPOLATED_DAYS = 3
# Days to either side over which the mean of a day of the year is taken; where the record knows
# none of them, the wider span. Beyond it lies another season.
CLIMATE_DAYS, WIDEST_CLIMATE_DAYS = 15, 30

RULES: dict[str, str] = {
    "none": "Missing days stay missing; what rests on them is unknown.",
    "interpolate": "A straight line across at most three missing days, known days on both sides.",
    "neighbours": "The day at the nearest other sites of the orchard, at most 150 km away, brought "
    "to the site's level by the days they share, else by height.",
    "climate": "The site's own mean of that day of the year and the fortnight to either side, or "
    "a month where it has none in that fortnight.",
}
DEFAULT_RULES = ("interpolate", "neighbours", "climate")
"""What is tried where a site's keeper has chosen nothing, nearest to the missing day first."""


@dataclass(frozen=True)
class Filled:
    """A record after filling.

    `rule` names for each day the rule that filled it, shape (days,): "" for a measured day, "none"
    for one that is still missing a temperature.
    """

    days: Daily
    rule: NDArray[np.object_]

    @property
    def filled(self) -> Bools:
        """Days that hold a filled value."""
        return np.asarray((self.rule != "") & (self.rule != "none"))

    @property
    def missing(self) -> Bools:
        """Days that no rule could fill."""
        return np.asarray(self.rule == "none")

    def share(self, first: int = 0, end: int | None = None) -> float:
        """Share of the days from `first` up to but without `end` that were filled; nan for none."""
        part = self.filled[first:end]
        return float(part.mean()) if len(part) else float("nan")


def fill_gaps(days: Daily, rules: Sequence[str], neighbour: Daily | None = None) -> Filled:
    """Fill missing temperatures by each rule in turn.

    Parameters
    ----------
    days : the record; a day is missing when its minimum or maximum is.
    rules : names out of `RULES`, in the order in which they are tried; ("none",) fills nothing.
    neighbour : the record that the rule "neighbours" takes from; without one it fills nothing.

    Raises QuantityError for rules that `checked_rules` refuses.
    """
    checked_rules(rules)
    columns = {name: values.copy() for name, values in days.columns.items()}
    rule = np.where(_lacking(columns), "none", "").astype(object)
    for name in rules:
        if name == "none" or (name == "neighbours" and neighbour is None):
            continue
        lacking = _lacking(columns)
        if not lacking.any():
            break
        if name == "neighbours":
            assert neighbour is not None
            source = brought_to(days, neighbour).between(days.start, len(days)).columns
        else:
            source = {column: _WAYS[name](days, column) for column in TEMPERATURES}
        _put_in(columns, source)
        rule[lacking & ~_lacking(columns)] = name
    return Filled(Daily(days.start, columns), rule)


def checked_rules(rules: Sequence[str]) -> tuple[str, ...]:
    """Rules as they were given, if they can be followed.

    Raises QuantityError for a rule that has no such name, none at all, one twice, or "none" beside
    others.
    """
    wrong = [name for name in rules if name not in RULES]
    if wrong or not rules or len(set(rules)) < len(rules) or ("none" in rules and len(rules) > 1):
        raise QuantityError(
            f"gap rules are {', '.join(RULES)}, each once, none by itself",
            given=", ".join(rules) or "nothing",
        )
    return tuple(rules)


def _lacking(columns: dict[str, Floats]) -> Bools:
    return np.asarray(np.isnan(columns["tmin_c"]) | np.isnan(columns["tmax_c"]))


def _put_in(columns: dict[str, Floats], source: dict[str, Floats]) -> None:
    """Fill days that can be made whole; a filled value never crosses a measured one."""
    low, high = (columns[name] for name in TEMPERATURES)
    new_low = np.where(np.isnan(low), source["tmin_c"], low)
    new_high = np.where(np.isnan(high), source["tmax_c"], high)
    new_low = np.where(np.isnan(low) & (new_low > new_high), new_high, new_low)
    new_high = np.where(np.isnan(high) & (new_high < new_low), new_low, new_high)
    whole = ~np.isnan(new_low) & ~np.isnan(new_high)
    columns["tmin_c"] = np.where(whole, new_low, low)
    columns["tmax_c"] = np.where(whole, new_high, high)


def _across(days: Daily, column: str) -> Floats:
    """Values on straight lines across short holes; nan elsewhere."""
    values = days.columns[column]
    known = np.flatnonzero(~np.isnan(values))
    out = np.full(len(values), np.nan)
    if len(known) < 2:
        return out
    at = np.arange(len(values))
    after = np.searchsorted(known, at)
    inside = (after > 0) & (after < len(known))
    hole = np.zeros(len(values), dtype=np.int64)
    hole[inside] = known[after[inside]] - known[after[inside] - 1] - 1
    short = inside & (hole <= LONGEST_INTERPOLATED_DAYS)
    out[short] = np.interp(at[short], known, values[known])
    return out


def usual_days(days: Daily, column: str) -> Floats:
    """Mean of each day of the year over the days around it, shape (366,); nan without a value."""
    values = days.columns[column]
    known = ~np.isnan(values)
    slot = day_slot(days.dates)
    total = np.bincount(slot[known], values[known], minlength=YEAR_SLOTS)
    count = np.bincount(slot[known], minlength=YEAR_SLOTS).astype(float)
    mean = np.full(YEAR_SLOTS, np.nan)
    for window in (CLIMATE_DAYS, WIDEST_CLIMATE_DAYS):
        near = np.ones(2 * window + 1)
        sums, counts = (
            np.convolve(np.concatenate([a[-window:], a, a[:window]]), near, mode="valid")
            for a in (total, count)
        )
        np.divide(sums, counts, out=mean, where=np.isnan(mean) & (counts > 0))
    return mean


def _usual(days: Daily, column: str) -> Floats:
    return np.asarray(usual_days(days, column)[day_slot(days.dates)])


_WAYS: dict[str, Callable[[Daily, str], Floats]] = {"interpolate": _across, "climate": _usual}
