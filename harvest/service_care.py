"""The use cases about care: withholding, the year's calendar, pollination, what fits a place.

The command line and the dashboard call these functions. Each takes the as-of date as an
argument; nothing dated after it can influence a result.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from harvest.care.bees import shares_counted
from harvest.care.bloom_frost import BloomFrost, bloom_frosts
from harvest.care.pollination import Partner, Pollination
from harvest.care.pollination import pollination as pollination_of
from harvest.care.site_days import forecast, measured
from harvest.care.spray_by import LastSprayDay, last_spray_days
from harvest.care.texts import picked_unknown
from harvest.care.withholding import Withholding
from harvest.care.withholding import withholding as withholding_of
from harvest.compatibility import Parents
from harvest.service_known import Known, known_on
from harvest.store.orchard import Orchard
from harvest.store.reading import read_tree_records
from harvest.store.reference import (
    cultivar_table,
    frost_kill_table,
    pollination_table,
    species_table,
)

__all__ = [
    "BloomFrost",
    "LastSprayDay",
    "Partner",
    "Pollination",
    "Withholding",
    "bloom_frost",
    "picked_unknown",
    "pollination",
    "shares_counted",
    "spray_by",
    "told_at_once",
    "withholding",
]


def withholding(orchard: Orchard, as_of: date, *, known: Known | None = None) -> list[Withholding]:
    """May each standing tree be picked, by the labels as logged; clashes with forecasts."""
    return (known or known_on(orchard, as_of)).withholding


def told_at_once(
    orchard: Orchard, kind: str, rows: Sequence[Mapping[str, str]], as_of: date
) -> list[str]:
    """What is to be said when picks or sprays are logged: fruit picked inside a period.

    `rows` are the records as they were logged, all of one kind; of other kinds nothing is said.
    """
    if kind not in ("picks", "sprays"):
        return []
    with orchard.reading() as connection:
        answers = withholding_of(read_tree_records(connection, as_of), [])
    named = "tree" if kind == "picks" else "product"
    logged = {(row.get(named, "").casefold(), row.get("date", "")[:10]) for row in rows}
    return [
        f"{answer.tree}: {pick.says}"
        for answer in answers
        for pick in answer.picked_inside
        if (
            (answer.tree.casefold(), pick.date.isoformat())
            if kind == "picks"
            else (pick.product.casefold(), pick.sprayed.isoformat())
        )
        in logged
    ]


def spray_by(
    orchard: Orchard,
    as_of: date,
    product: str,
    withholding_days: int,
    *,
    known: Known | None = None,
) -> list[LastSprayDay]:
    """Last day for a product on each tree, by its label's days and the forecast of ripe fruit."""
    seasons = (known or known_on(orchard, as_of)).tree_seasons
    return last_spray_days(seasons, product, withholding_days, as_of)


def pollination(orchard: Orchard, as_of: date, *, known: Known | None = None) -> list[Pollination]:
    """Whether each tree has a partner in bloom with it this season, and what bees find."""
    return (known or known_on(orchard, as_of)).once(_pollination)


def _pollination(known: Known) -> list[Pollination]:
    parents = Parents(species_table(), cultivar_table(), pollination_table())
    return pollination_of(known.records, known.tree_seasons, parents, measured(known.records))


def bloom_frost(orchard: Orchard, as_of: date, *, known: Known | None = None) -> list[BloomFrost]:
    """What frost does to the flowers of each species at each site, at the stage they are in."""
    known = known or known_on(orchard, as_of)
    records = known.records
    blooms = pollination(orchard, as_of, known=known)
    return bloom_frosts(records, blooms, frost_kill_table(), measured(records), forecast(records))
