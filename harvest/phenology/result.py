"""What a forecast says: dates with their probabilities, what they rest on, and warnings."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

EventName = Literal["full bloom", "ripe", "last pick"]
EVENT_NAMES: tuple[EventName, ...] = ("full bloom", "ripe", "last pick")
Status = Literal["forecast", "observed", "unknown"]
QUANTILES = (0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95)


@dataclass(frozen=True, slots=True)
class WeekShare:
    """A week (by its first day) and the probability that the event falls in it."""

    start: date
    probability: float


@dataclass(frozen=True, slots=True)
class Basis:
    """What a forecast rests on."""

    model: str
    seasons: int
    """Past seasons of the tree's cultivar with a bloom and a ripe date."""
    trees: int
    """Trees those seasons were seen on."""
    prior: Literal["own record", "cultivar", "species", "none"]
    """Where the expected requirement comes from in the first place."""
    weather_to: date | None
    filled_days: int
    """Days since bloom without a temperature measured at the site."""


@dataclass(frozen=True, slots=True)
class EventForecast:
    """One event of one tree in one season, as known on the as-of date."""

    tree: str
    site: str
    species: str
    cultivar: str
    season: int
    event: EventName
    status: Status
    observed: date | None
    quantiles: dict[float, date]
    """Date by which the event has happened with this probability; empty unless a forecast."""
    weeks: tuple[WeekShare, ...]
    basis: Basis
    warnings: tuple[str, ...]
    half_picked: dict[float, date] = field(default_factory=dict)
    """Of a last pick that is forecast: date by which half of the season's weight is picked."""
    explanation: str = ""
    """Two sentences on what it rests on and what moved it; only where they were asked for."""

    @property
    def picking_week(self) -> WeekShare | None:
        """The likeliest week, or None where nothing is forecast."""
        return max(self.weeks, key=lambda week: week.probability, default=None)


@dataclass(frozen=True, slots=True)
class PastForecast:
    """What would have been said of a tree's ripe date in a past season, and what came."""

    tree: str
    site: str
    species: str
    cultivar: str
    season: int
    as_of: date
    quantiles: dict[float, date]
    observed: date
