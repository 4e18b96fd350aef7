"""The use cases about care: withholding, the year's calendar, pollination, what fits a place.

The command line and the dashboard call these functions. Each takes the as-of date as an
argument; nothing dated after it can influence a result.
"""

from __future__ import annotations

from datetime import date

import pandas as pd

from harvest.care.compatibility import Parents
from harvest.care.outlook import DateOutlook, TreeSeason
from harvest.care.pollination import Partner, Pollination
from harvest.care.pollination import pollination as pollination_of
from harvest.care.site_days import measured
from harvest.care.spray_by import LastSprayDay, last_spray_days
from harvest.care.texts import picked_unknown
from harvest.care.withholding import Withholding
from harvest.care.withholding import withholding as withholding_of
from harvest.phenology.forecast import outlook, running_and_past
from harvest.phenology.report import report
from harvest.records import Records
from harvest.seasons import leaf
from harvest.store.orchard import Orchard
from harvest.store.reading import read_records
from harvest.store.reference import cultivar_table, pollination_table, species_table
from harvest.traits import tree_traits
from harvest.tree_years import with_seasons

__all__ = [
    "LastSprayDay",
    "Partner",
    "Pollination",
    "Withholding",
    "picked_unknown",
    "pollination",
    "spray_by",
    "withholding",
]


def withholding(orchard: Orchard, as_of: date) -> list[Withholding]:
    """May each standing tree be picked, by the labels as logged; clashes with forecasts."""
    known, traits = known_records(orchard, as_of)
    return withholding_of(known, tree_seasons(known, traits))


def spray_by(
    orchard: Orchard, as_of: date, product: str, withholding_days: int
) -> list[LastSprayDay]:
    """Last day for a product on each tree, by its label's days and the forecast of ripe fruit."""
    known, traits = known_records(orchard, as_of)
    return last_spray_days(tree_seasons(known, traits), product, withholding_days, as_of)


def pollination(orchard: Orchard, as_of: date) -> list[Pollination]:
    """Whether each tree has a partner in bloom with it this season, and what bees find."""
    known, traits = known_records(orchard, as_of)
    parents = Parents(species_table(), cultivar_table(), pollination_table())
    return pollination_of(known, tree_seasons(known, traits), parents, measured(known))


def known_records(orchard: Orchard, as_of: date) -> tuple[Records, pd.DataFrame]:
    """Records known on the day, with seasons, and what is known of each tree's kind."""
    known = read_records(orchard, as_of)
    traits = tree_traits(known)
    return with_seasons(known, traits), traits


def tree_seasons(known: Records, traits: pd.DataFrame) -> list[TreeSeason]:
    """The running seasons of every standing tree, with the chances of each day ahead."""
    rows, past = running_and_past(known, traits)
    if rows.empty:
        return []
    ahead = outlook(known, rows, past)
    events = report(known, ahead)
    gone = ahead.rows[["finished", "stripped", "no_crop"]].notna().any(axis=1).to_numpy()
    out = []
    for index, row in enumerate(ahead.rows.to_dict("records")):
        dates = []
        for event, chances in zip(
            events[3 * index : 3 * index + 3],
            (ahead.bloom[index], ahead.ripe[index], ahead.last[index]),
            strict=True,
        ):
            foretold = event.status == "forecast"
            dates.append(
                DateOutlook(
                    status=event.status,
                    seen=event.observed,
                    first=known.as_of if foretold else None,
                    chances=chances if foretold else None,
                    why_unknown=event.warnings if event.status == "unknown" else (),
                )
            )
        out.append(
            TreeSeason(
                tree=str(row["tree"]),
                site=str(row["site"]),
                species=str(row["species"]),
                cultivar=str(row["cultivar"]),
                season=int(row["season"]),
                latitude=float(row["latitude"]),
                leaf=leaf(row["planted"].date(), int(row["season"]), float(row["latitude"])),
                bloom=dates[0],
                ripe=dates[1],
                last_pick=dates[2],
                fruit_gone=bool(gone[index]),
            )
        )
    return out
