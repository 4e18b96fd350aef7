"""What is known of a tree before its own records: days from bloom to ripe, and the bloom day.

Pure arithmetic on numbers from the reference tables; `harvest.store.reference` reads the tables.

A range is read as the central 90 % of a normal distribution. Every statement about a cultivar
("evidence") carries its own standard deviation, wider for trade lists and for memory; statements
are pooled without narrowing, because lists copy one another, and the species' range then pulls
the result in. Last comes what site and season add: about 7 % of the days, the effect of a place
1 degC cooler on low-chill peach (Topp & Sherman 1989: 5 days of about 80).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Literal, NamedTuple

from harvest.errors import QuantityError

Z90 = 1.645
SITE_SHARE = 0.07
# Doubt about a stated range or offset [d] by where it comes from. The offsets spread by 5 to 7 d
# between climates and years in the lists read (see data/reference/README.md).
RANGE_SD = {"read": 3.0, "derived": 4.0, "trade list": 5.0, "memory": 6.0}
OFFSET_SD = {"read": 6.0, "derived": 7.0, "trade list": 8.0, "memory": 9.0}
# Wenden et al. 2016, additive model of site-year and cultivar: residual of one tree-year, bloom
# to maturity [d]; cultivars also answer to sites each in its own way [d, judgement].
CHERRY_RESIDUAL_SD = 3.8
CHERRY_SITE_SD = 2.0
# Hopkins 1918 (bioclimatic law), from memory: spring comes 4 days later per degree of latitude
# towards the pole and per 400 ft (122 m) of height. The law was made for North America; mild
# ocean coasts bloom far earlier than it says, so it is not carried further than 20 days later or
# 40 days earlier, and half of the shift is doubt [judgement].
HOPKINS_DAYS = 4.0
HOPKINS_HEIGHT_M = 121.92
LATEST_SHIFT_DAYS, EARLIEST_SHIFT_DAYS = 20.0, -40.0
SHIFT_DOUBT = 0.5
HOME_LATITUDE = 45.0
# Standard deviation of full bloom over years at one place [d], Schwartz et al. 1997 (natural
# 90 % limits of 12 to 13 days divided by 1.645).
BLOOM_SEASON_SD = 7.6
# Places at one latitude and height differ by coast and continent [d, judgement]: sweet cherry
# near 45 N blooms in early April in the Rhone valley, in early May by the Great Lakes.
BLOOM_PLACE_SD = 10.0


class Evidence(NamedTuple):
    """One statement about days from full bloom to ripe: mean and doubt [d], and its source."""

    mean: float
    sd: float
    source: str


@dataclass(frozen=True)
class RipeningPrior:
    """Days from full bloom to ripe for picking [d] before a tree's own records count.

    `level` says whether anything was known of the cultivar; `sd_days` covers sites and seasons.
    """

    mean_days: float
    sd_days: float
    level: Literal["cultivar", "species"]
    source: str


@dataclass(frozen=True)
class BloomPrior:
    """Full bloom as day of season [d], 1 on 1 January in the north and on 1 July in the south."""

    mean_day: float
    sd_days: float
    source: str


def range_evidence(low: float, high: float, basis: str, source: str, sites: float = 1) -> Evidence:
    """Evidence from a stated range of days [d]; a range over several sites pins the mean better."""
    spread = (high - low) / (2 * Z90) / max(sites, 1.0) ** 0.5
    return Evidence((low + high) / 2, hypot(spread, RANGE_SD[basis]), source)


def offset_evidence(reference: Evidence, offset: float, basis: str, source: str) -> Evidence:
    """Evidence from a ripening date relative to a reference cultivar [d later]."""
    return Evidence(reference.mean + offset, hypot(reference.sd, OFFSET_SD[basis]), source)


def cherry_evidence(days: float, site_years: float, source: str) -> Evidence:
    """Evidence from the additive model of sweet cherry, days [d] at its mean site-year."""
    return Evidence(days, hypot(CHERRY_RESIDUAL_SD / site_years**0.5, CHERRY_SITE_SD), source)


def combined(statements: Sequence[Evidence], species: Evidence) -> Evidence:
    """All statements about a cultivar, pooled and then drawn in by its species' range.

    Weights are 1/sd^2, so that a later offset always gives a later mean. Agreement does not
    narrow the result (lists copy one another); disagreement between statements widens it.

    Raises
    ------
    QuantityError : there is no statement.
    """
    if not statements:
        raise QuantityError("at least one statement is needed to combine", given="none")
    weights = [item.sd**-2 for item in statements]
    weighted = list(zip(weights, statements, strict=True))
    mean = sum(weight * item.mean for weight, item in weighted) / sum(weights)
    between = sum(weight * (item.mean - mean) ** 2 for weight, item in weighted) / sum(weights)
    own, common = sum(weights) / len(weights), species.sd**-2
    return Evidence(
        (own * mean + common * species.mean) / (own + common),
        ((own + common) ** -1 + between) ** 0.5,
        "; ".join(dict.fromkeys(item.source for item in statements)),
    )


# Standard deviation between the seasons of one cultivar at one place [d], where an orchard passed
# on a single season: about what the open sweet-cherry records show (Wenden et al. 2016).
SEASON_SD = 5.0


class Elsewhere(NamedTuple):
    """What another orchard saw: days from bloom to ripe, mean and spread [d] over its seasons."""

    days_mean: float
    days_sd: float | None
    seasons: int


def with_elsewhere(known: Evidence, others: Sequence[Elsewhere]) -> Evidence:
    """What is known of a cultivar once other orchards' seasons count too.

    Each orchard is one draw of a place, with the doubt that its few seasons leave:
    variance = place^2 + sd^2 / seasons, weighed by 1/variance against what was known (normal
    mean with known variances, Gelman et al. 2013, Bayesian Data Analysis, section 2.5, from
    memory).
    """
    place = SITE_SHARE * known.mean
    weight, total = known.sd**-2, known.mean * known.sd**-2
    for other in others:
        sd = SEASON_SD if other.days_sd is None else max(other.days_sd, 1.0)
        own = 1.0 / (place**2 + sd**2 / other.seasons)
        weight, total = weight + own, total + own * other.days_mean
    seasons = sum(other.seasons for other in others)
    source = f"{known.source}; {seasons} seasons of other orchards" if others else known.source
    return Evidence(total / weight, weight**-0.5, source)


def with_sites(known: Evidence, level: Literal["cultivar", "species"]) -> RipeningPrior:
    """The prior for a tree somewhere: what is known of its kind, plus site and season."""
    return RipeningPrior(known.mean, hypot(known.sd, SITE_SHARE * known.mean), level, known.source)


def bloom_at(
    start_day: float,
    end_day: float,
    latitude: float,
    elevation_m: float = 0.0,
    *,
    source: str = "",
) -> BloomPrior:
    """Full bloom away from 45 degrees: the window's middle shifted after Hopkins 1918.

    Parameters
    ----------
    start_day, end_day : the species' window at 45 N, low altitude, days of the year [d]; an end
        before the start runs over New Year.
    latitude : [deg]; the sign picks the hemisphere. elevation_m : [m].
    source : passed through.

    Spring bloom moves 4 days per degree and per 122 m, at most 20 days later or 40 days
    earlier, with doubt of half of what the law says. Bloom in autumn and winter (a window over
    New Year) does not follow that law and is left where it is, with 10 more days of spread.

    Raises
    ------
    QuantityError : latitude outside -90 to 90 degrees.
    """
    if not -90 <= latitude <= 90:
        raise QuantityError("a latitude between -90 and 90 degrees is needed", given=f"{latitude}")
    over_new_year = end_day < start_day
    end = end_day + 365 * over_new_year
    law = HOPKINS_DAYS * (abs(latitude) - HOME_LATITUDE + elevation_m / HOPKINS_HEIGHT_M)
    shift = 0.0 if over_new_year else min(max(law, EARLIEST_SHIFT_DAYS), LATEST_SHIFT_DAYS)
    doubt = 10.0 if over_new_year else SHIFT_DOUBT * abs(law)
    # 1 January plus half a year is 2 July, and 1 July is the southern season's first day.
    mirrored = 1.5 if latitude < 0 else 0.0
    mean = (start_day + end) / 2 + shift + mirrored
    sd = hypot((end - start_day) / (2 * Z90), BLOOM_SEASON_SD, BLOOM_PLACE_SD, doubt)
    return BloomPrior(mean, sd, source)
