"""Before planting: will a cultivar do here, by the years the place has had and warmer ones.

The model is simple on purpose. Bloom: chill portions from the autumn until the requirement is met,
then degree hours (sequential model). The heat need is set so that the usual bloom here comes out
right in the middle of the years. Ripe: degree days from bloom over the species' base, set so that
the usual days from bloom come out. So levels rest on the tables and on what was logged here, and
only the years' differences and the warming on the model.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from harvest.care.climate_years import CHILL_DAYS, NORMAL_YEARS, ClimateYears, safe_chill
from harvest.seasons import date_of

Floats = NDArray[np.float64]
WARMINGS_C = (0.0, 1.0, 2.0, 3.0)
# Fruit on the tree freezes at about this air temperature [degC]: from memory.
FRUIT_FREEZES_C = -2.2
# A day that adds less is too cold for ripening [degC d]: ours.
LEAST_HEAT = 1.0
# Fruit so much later than usual does not ripen any more, it hangs over winter [d]: ours.
LATEST_DAYS = 60.0
# Autumn's cold is looked for from ten months into the layout on: 1 August, 1 February [d].
AUTUMN_DAY = 304
# Nights that count, around full bloom [d]: buds showing colour, then first flowers to small fruit
# (the frost table has nearly the same temperatures for all of those). Days from memory.
BUD_NIGHTS, BLOOM_NIGHTS = (-10, -6), (-5, 21)
Z80, Z90 = 1.2816, 1.645


@dataclass(frozen=True, slots=True)
class Candidate:
    """What the tables say of a species or cultivar that might be planted."""

    species: str
    cultivar: str
    """Blank for the species as a whole."""
    chill_portions: tuple[float, float] | None
    """Requirement from and to; None where not known, (0, 0) where chill does not drive it."""
    chill_hours: tuple[float, float] | None
    chill_source: str
    bloom_day: float
    """Usual full bloom here, day of season [d], and its standard deviation."""
    bloom_sd: float
    bloom_source: str
    days_to_ripe: float
    days_sd: float
    ripe_source: str
    heat_base_c: float | None
    heat_upper_c: float | None
    kill_c: tuple[float, float] | None
    """Temperatures killing a tenth and nine tenths at full bloom [degC]; None: not in the table."""
    kill_bud_c: tuple[float, float] | None
    """The same for buds showing pink or white, BBCH 57 [degC]."""
    kill_source: str
    window_days: float
    """From first to last pick [d]."""


@dataclass(frozen=True, slots=True)
class Share:
    """A share of years, with its 80 % interval (Wilson 1927)."""

    share: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Days:
    """A date of the season: 8 in 10 between `early` and `late`, even chance by `middle` (MM-DD)."""

    early: str
    middle: str
    late: str
    day_of_season: float


@dataclass(frozen=True, slots=True)
class Scenario:
    """How a candidate fares with the years as they were, or warmer throughout."""

    warming_c: float
    portions_safe: float
    """Chill portions exceeded in 90 % of years."""
    portions_median: float
    hours_safe: float
    """Hours at 0 to 7.2 degC exceeded in 90 % of years [h]."""
    chill_met: Share | None
    """Years in which the middle of the requirement is met; None where it is not known."""
    chill_met_range: tuple[float, float] | None
    """The same for the upper and the lower end of the requirement: how sure that is [1]."""
    ripens: Share | None
    """Years in which it ripens before autumn's cold."""
    frost_tenth: Share | None
    frost_most: Share | None
    """Years with a night in bloom that kills a tenth, nine tenths, of the flowers."""
    all_well: Share | None
    """Years with chill, no night that kills nine tenths, and ripe fruit before the cold."""
    bloom: Days | None
    ripe: Days | None


@dataclass(frozen=True, slots=True)
class ClimateFit:
    """One candidate at one place."""

    species: str
    cultivar: str
    place: str
    years: int
    first_season: int | None
    last_season: int | None
    chill_portions: tuple[float, float] | None
    chill_hours: tuple[float, float] | None
    scenarios: tuple[Scenario, ...]
    partners: tuple[str, ...]
    """Trees at the place whose pollen serves it."""
    notes: tuple[str, ...]
    sources: tuple[str, ...]

    @property
    def rank(self) -> float:
        """Share of years in which all goes well as the years were; -1 where it cannot be told."""
        well = self.scenarios[0].all_well if self.scenarios else None
        return -1.0 if well is None else well.share


def share_of(values: Floats) -> Share:
    """Mean of yes/no or of chances over years, with the Wilson interval of 80 %."""
    n = len(values)
    p = float(values.mean())
    centre = (p + Z80**2 / (2 * n)) / (1 + Z80**2 / n)
    half = Z80 * np.sqrt(p * (1 - p) / n + Z80**2 / (4 * n * n)) / (1 + Z80**2 / n)
    return Share(p, float(max(0.0, centre - half)), float(min(1.0, centre + half)))


def scenarios(candidate: Candidate, years: list[ClimateYears]) -> tuple[Scenario, ...]:
    """The candidate in the years as they were (`years[0]`) and in the warmed ones."""
    now = years[0]
    if not len(now):
        return ()
    heat_need = _heat_need(candidate, now)
    bloom_now = _blooms(candidate, now, heat_need)
    ripe_need = _ripe_need(candidate, now, bloom_now)
    return tuple(_scenario(candidate, each, heat_need, ripe_need) for each in years)


def _scenario(what: Candidate, years: ClimateYears, heat_need: float, ripe_need: float) -> Scenario:
    portions = years.portions[:, CHILL_DAYS - 1]
    hours = years.cold_hours[:, CHILL_DAYS - 1]
    met, met_range = _chill_met(what, portions, hours)
    bloom = _blooms(what, years, heat_need)
    ripe = _ripes(what, years, bloom, ripe_need)
    ripens = _before_cold(what, years, ripe)
    tenth, most = _bloom_frosts(what, years, bloom)
    well = ripens if met is None else ripens * met
    well = well if most is None else well * ~most
    return Scenario(
        warming_c=years.warming_c,
        portions_safe=safe_chill(portions),
        portions_median=float(np.median(portions)),
        hours_safe=safe_chill(hours),
        chill_met=None if met is None else share_of(met.astype(float)),
        chill_met_range=met_range,
        ripens=share_of(ripens),
        frost_tenth=None if tenth is None else share_of(tenth.astype(float)),
        frost_most=None if most is None else share_of(most.astype(float)),
        all_well=None if met is None else share_of(well),
        bloom=_span(bloom, what.bloom_sd, years),
        ripe=_span(ripe, what.days_sd, years),
    )


def _middle(span: tuple[float, float]) -> float:
    return (span[0] + span[1]) / 2


def _chill_met(
    what: Candidate, portions: Floats, hours: Floats
) -> tuple[NDArray[np.bool_] | None, tuple[float, float] | None]:
    """Whether each year meets the requirement, in the unit it is known in; never converted."""
    if what.chill_portions is not None:
        need, got = what.chill_portions, portions
    elif what.chill_hours is not None:
        need, got = what.chill_hours, hours
    else:
        return None, None
    ends = float((got >= need[1]).mean()), float((got >= need[0]).mean())
    return got >= _middle(need), ends


def _chilled_on(what: Candidate, years: ClimateYears) -> Floats:
    """Day of the layout on which the requirement is met; nan where it is not by late spring."""
    if what.chill_portions is not None and what.chill_portions[1] == 0:
        return np.full(len(years), float(years.to_season))
    if what.chill_portions is not None:
        return first_reach(years.portions, np.full(len(years), _middle(what.chill_portions)))
    if what.chill_hours is not None:
        return first_reach(years.cold_hours, np.full(len(years), _middle(what.chill_hours)))
    return np.full(len(years), float(years.to_season))


def first_reach(running: Floats, need: Floats) -> Floats:
    """First day on which a running total reaches the need of each row; nan where it does not."""
    reached = running >= need[:, None]
    return np.where(reached.any(axis=1), reached.argmax(axis=1).astype(float), np.nan)


def _at(running: Floats, day: Floats) -> Floats:
    """Running total at the end of a day of each row; nan where the day is not known."""
    known = ~np.isnan(day)
    at = np.clip(np.nan_to_num(day), 0, running.shape[1] - 1).astype(np.int64)
    return np.where(known, running[np.arange(len(running)), at], np.nan)


def _usual_bloom(what: Candidate, years: ClimateYears) -> float:
    return years.to_season + what.bloom_day - 1


def _heat_need(what: Candidate, years: ClimateYears) -> float:
    """Degree hours from chill met to bloom that put the usual bloom in the middle of the years."""
    start = _at(years.degree_hours, _chilled_on(what, years))
    end = _at(years.degree_hours, np.full(len(years), _usual_bloom(what, years)))
    sums = end - start
    known = sums[~np.isnan(sums) & (sums > 0)]
    return float(np.median(known)) if known.size else float("nan")


def _blooms(what: Candidate, years: ClimateYears, heat_need: float) -> Floats:
    """Full bloom of each year, day of the layout; nan in years whose chill is never met."""
    if np.isnan(heat_need):
        return np.full(len(years), np.nan)
    start = _at(years.degree_hours, _chilled_on(what, years))
    return first_reach(years.degree_hours, np.nan_to_num(start + heat_need, nan=np.inf))


def _heat(what: Candidate, years: ClimateYears) -> Floats:
    """Running degree days of the candidate's base; plain days where it has none."""
    if what.heat_base_c is None:
        return np.tile(np.arange(years.tmin_c.shape[1], dtype=float), (len(years), 1))
    return years.degree_days(what.heat_base_c, what.heat_upper_c)


def _ripe_need(what: Candidate, years: ClimateYears, bloom: Floats) -> float:
    """Heat from bloom to ripe: the usual days at the rate of the days that have heat here.

    Days too cold to add heat are not days of ripening: where the season ends before the usual
    number of days, the need is what the whole number would have given.
    """
    heat = _heat(what, years)
    end = bloom + what.days_to_ripe
    sums = _at(heat, end) - _at(heat, bloom)
    daily = np.diff(heat, axis=1, prepend=0.0) >= LEAST_HEAT
    counted = np.cumsum(daily, axis=1).astype(float)
    warm = _at(counted, end) - _at(counted, bloom)
    needs = np.where(warm > 0, sums * what.days_to_ripe / np.maximum(warm, 1.0), np.nan)
    known = needs[~np.isnan(needs)]
    return float(np.median(known)) if known.size else float("nan")


def _ripes(what: Candidate, years: ClimateYears, bloom: Floats, need: float) -> Floats:
    heat = _heat(what, years)
    ripe = first_reach(heat, np.nan_to_num(_at(heat, bloom) + need, nan=np.inf))
    return np.where(ripe - bloom > what.days_to_ripe + LATEST_DAYS, np.nan, ripe)


def _before_cold(what: Candidate, years: ClimateYears, ripe: Floats) -> Floats:
    """Chance of each year that fruit is ripe before the first night that freezes it [1]."""
    from scipy.special import ndtr

    cold = years.tmin_c[:, AUTUMN_DAY:] <= FRUIT_FREEZES_C
    first = np.where(cold.any(axis=1), AUTUMN_DAY + cold.argmax(axis=1), np.inf)
    chance = ndtr((first - np.nan_to_num(ripe)) / max(what.days_sd, 1.0))
    return np.where(np.isnan(ripe), 0.0, chance)


def _bloom_frosts(
    what: Candidate, years: ClimateYears, bloom: Floats
) -> tuple[NDArray[np.bool_] | None, NDArray[np.bool_] | None]:
    """Whether a night of bloom kills a tenth, and nine tenths, of the flowers in each year."""
    if what.kill_c is None:
        return None, None
    known = ~np.isnan(bloom)
    killed = []
    for level in (0, 1):
        hit = _coldest(years, bloom, BLOOM_NIGHTS) <= what.kill_c[level]
        if what.kill_bud_c is not None:
            hit |= _coldest(years, bloom, BUD_NIGHTS) <= what.kill_bud_c[level]
        killed.append(hit & known)
    return killed[0], killed[1]


def _coldest(years: ClimateYears, bloom: Floats, nights: tuple[int, int]) -> Floats:
    """Coldest of the nights counted from full bloom, in each year [degC]."""
    days = np.nan_to_num(bloom)[:, None] + np.arange(nights[0], nights[1] + 1)
    at = np.clip(days, 0, years.tmin_c.shape[1] - 1).astype(np.int64)
    return np.asarray(np.take_along_axis(years.tmin_c, at, axis=1).min(axis=1))


def _span(days: Floats, sd: float, years: ClimateYears) -> Days | None:
    """Dates over the years, widened by what is not known of the cultivar [d]."""
    known = days[~np.isnan(days)]
    if not known.size:
        return None
    low, middle, high = np.quantile(known, [0.1, 0.5, 0.9]) - years.to_season + 1
    own = Z80 * sd
    ends = (middle - np.hypot(middle - low, own), middle, middle + np.hypot(high - middle, own))
    shown = [f"{date_of(float(day), 2026, years.latitude):%m-%d}" for day in ends]
    return Days(shown[0], shown[1], shown[2], float(middle))


def year_notes(years: ClimateYears) -> list[str]:
    """What to know of the years that all numbers rest on."""
    n = len(years)
    if not n:
        return ["No whole season of weather is on record here: nothing can be said."]
    said = [
        f"Rests on {n} season{'' if n == 1 else 's'}, {years.seasons[0]} to {years.seasons[-1]}; "
        f"{years.filled:.1%} of their days were missing and taken as usual."
    ]
    if n < NORMAL_YEARS:
        said.append(
            f"Fewer than {NORMAL_YEARS} years, the length of a climatological normal: the shares "
            "may be off by more than their intervals say."
        )
    return said
