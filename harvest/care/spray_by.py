"""The last day on which a product could be used, if the fruit is to be picked when it is ripe."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from harvest.care import texts
from harvest.care.outlook import DateOutlook, TreeSeason
from harvest.errors import QuantityError

# Chances of being late for which the day is told [1].
CHANCES = (0.05, 0.1, 0.25, 0.5)


@dataclass(frozen=True, slots=True)
class LastSprayDay:
    """Last day for one product on one tree, at one chance that the fruit is ripe too soon."""

    tree: str
    site: str
    species: str
    cultivar: str
    season: int
    product: str
    withholding_days: int
    chance_ripe_before_end: float
    """Chance that fruit is ripe before the period ends, if it is used on that day [1]."""
    last_day: date | None
    """None where no day is left: even today that chance would be greater."""
    says: str
    cautions: tuple[str, ...] = texts.SPRAY_CAUTIONS


def last_spray_day(ripe: DateOutlook, period_days: int, chance: float) -> date | None:
    """Last day d such that the chance of ripe fruit before d + period is at most `chance`.

    Parameters
    ----------
    ripe : when the fruit turns ripe.
    period_days : withholding days typed from the label [d].
    chance : allowed chance that it is ripe before the period ends, 0 to 1.

    Returns None where nothing is known of the ripe date. The day may lie in the past.

    Raises QuantityError for days below 0 or a chance outside 0 to 1.
    """
    if period_days < 0:
        raise QuantityError("withholding days are not below 0", given=str(period_days))
    if ripe.seen is not None:
        return ripe.seen - timedelta(days=period_days)
    # by(end - 1) <= chance < by(end): the first day by which more than the chance has come.
    end = ripe.quantile(min(chance + 1e-9, 1 - 1e-9))
    return None if end is None else end - timedelta(days=period_days)


def last_spray_days(
    seasons: Sequence[TreeSeason], product: str, period_days: int, as_of: date
) -> list[LastSprayDay]:
    """The last days for one product on every tree whose fruit is still to be picked.

    Where ripe fruit hangs, or may hang as its picking was never logged, no day is left; the next
    crop of such a tree comes after it.
    """
    out = []
    hang = {each.tree: each.season for each in seasons if period_days and _may_hang(each)}
    for each in seasons:
        ripe = hang.get(each.tree) == each.season
        if each.fruit_gone or not (ripe or each.ripe.status == "forecast"):
            continue
        if each.tree in hang and not ripe:
            continue
        for chance in CHANCES:
            day = None if ripe else last_spray_day(each.ripe, period_days, chance)
            left = day if day is not None and day >= as_of else None
            out.append(
                LastSprayDay(
                    tree=each.tree,
                    site=each.site,
                    species=each.species,
                    cultivar=each.cultivar,
                    season=each.season,
                    product=product,
                    withholding_days=period_days,
                    chance_ripe_before_end=chance,
                    last_day=left,
                    says=texts.spray_on_ripe(product, period_days, each.ripe.seen)
                    if ripe
                    else _says(left, product, period_days, chance),
                )
            )
    return out


def _may_hang(season: TreeSeason) -> bool:
    return not season.fruit_gone and season.ripe.status != "forecast"


def _says(day: date | None, product: str, period_days: int, chance: float) -> str:
    if day is not None:
        return texts.spray_by(day, product, period_days, chance)
    return (
        f"No day is left for {product} with {texts.days(period_days)}: the chance that the fruit "
        f"is ripe before the period ends would be more than {texts.chance(chance)}."
    )
