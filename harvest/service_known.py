"""What was known on a day, worked out once and shared by the use cases that build on it."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from datetime import date
from threading import RLock
from typing import TypeVar, cast

import pandas as pd

from harvest.care.outlook import DateOutlook, TreeSeason
from harvest.care.withholding import Withholding, withholding
from harvest.phenology.forecast import Outlook, outlook, running_and_past
from harvest.phenology.report import by_weeks, report
from harvest.phenology.result import EventForecast
from harvest.records import Records
from harvest.seasons import MONDAY, leaf
from harvest.store.orchard import Orchard
from harvest.store.reading import Tables, read_records
from harvest.store.reference import (
    crop_load_table,
    cultivar_table,
    species_table,
    young_tree_table,
)
from harvest.traits import tree_traits
from harvest.tree_years import with_seasons
from harvest.yields import CropAdvice, CropReference, crop_advice

Made = TypeVar("Made")


class Known:
    """The records of a day with their seasons, and the forecast made of them when first asked for.

    Parameters
    ----------
    records : what was known on the day, as read.

    One may be used by several threads; what one of them works out the others wait for.
    """

    def __init__(self, records: Records) -> None:
        self.traits = tree_traits(records)
        """One row per tree, see `harvest.phenology.forecast`."""
        self.records = with_seasons(records, self.traits)
        self._lock = RLock()
        self._made: dict[Callable[[Known], object], object] = {}

    def once(self, make: Callable[[Known], Made]) -> Made:
        """What a function makes of this, made when first asked for."""
        with self._lock:
            if make not in self._made:
                self._made[make] = make(self)
            return cast(Made, self._made[make])

    @property
    def as_of(self) -> date:
        """The day."""
        return self.records.as_of

    @property
    def own_traits(self) -> pd.DataFrame:
        """`traits` without what other orchards passed on.

        Their seasons may be later than a past one that is forecast again.
        """
        return self.once(_own_traits)

    @property
    def forecast(self) -> list[EventForecast]:
        """Full bloom, ripe and last pick of every tree in its running season."""
        return self.once(_events)

    def forecast_by_weeks(self, begins: int) -> list[EventForecast]:
        """The forecast with the chances of weeks that begin on a weekday, 0 Monday."""
        events, ahead = self.forecast, self.once(_ahead)
        if begins == MONDAY or ahead is None:
            return events
        return by_weeks(events, self.records, ahead, begins)

    @property
    def tree_seasons(self) -> list[TreeSeason]:
        """The running seasons of every standing tree, with the chances of each day ahead."""
        return self.once(_running)

    @property
    def past_seasons(self) -> pd.DataFrame:
        """Tree-seasons on record (`harvest.phenology.past.tree_seasons`), traits joined."""
        return self.once(_rows_and_past)[1]

    @property
    def crop_reference(self) -> CropReference:
        """What tells how much fruit a tree may carry."""
        return self.once(_crop_reference)

    @property
    def crop_advice(self) -> list[CropAdvice]:
        """Strip, limit or carry: each standing tree in its running season."""
        return self.once(_crop_advice)

    @property
    def withholding(self) -> list[Withholding]:
        """May each standing tree be picked, by the labels as logged; clashes with forecasts."""
        return self.once(_withholding)


def _own_traits(known: Known) -> pd.DataFrame:
    return tree_traits(dataclasses.replace(known.records, experience=None))


def _rows_and_past(known: Known) -> tuple[pd.DataFrame, pd.DataFrame]:
    return running_and_past(known.records, known.traits)


def _ahead(known: Known) -> Outlook | None:
    rows, past = known.once(_rows_and_past)
    return outlook(known.records, rows, past) if len(rows) else None


def _events(known: Known) -> list[EventForecast]:
    ahead = known.once(_ahead)
    return [] if ahead is None else report(known.records, ahead)


def _running(known: Known) -> list[TreeSeason]:
    ahead = known.once(_ahead)
    return [] if ahead is None else _tree_seasons(ahead, known.forecast, known.as_of)


def _crop_reference(known: Known) -> CropReference:
    return CropReference(
        species=species_table(),
        cultivars=cultivar_table(),
        crop_load=crop_load_table(),
        young_trees=young_tree_table(),
        usual=known.traits,
    )


def _withholding(known: Known) -> list[Withholding]:
    return withholding(known.records, known.tree_seasons)


def _crop_advice(known: Known) -> list[CropAdvice]:
    return crop_advice(known.records, None, known.crop_reference)


def known_on(orchard: Orchard, as_of: date, tables: Tables | None = None) -> Known:
    """What was known on a day; from `tables` where they have been read already."""
    return Known(read_records(orchard, as_of) if tables is None else tables.known(as_of))


def _tree_seasons(ahead: Outlook, events: Sequence[EventForecast], as_of: date) -> list[TreeSeason]:
    """Rows of an outlook as tree-seasons; `events` are its report, three of each row."""
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
                    first=as_of if foretold else None,
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
