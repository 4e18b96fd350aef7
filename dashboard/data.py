"""What the pages may know: the one door from the dashboard to the orchard and its calculations.

Results are kept per as-of date for as long as the database does not change, so that the parts of
one page, and the next page, share one computation.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from datetime import date
from pathlib import Path
from threading import Lock
from typing import TypeVar, cast

from sqlalchemy import text

from harvest import service, service_calendar, service_care
from harvest.care.texts import SPRAY_CAUTIONS
from harvest.errors import HarvestError
from harvest.phenology.result import Basis, EventForecast, PastForecast, WeekShare
from harvest.records import Records
from harvest.seasons import day_of_season, season_label, season_start
from harvest.service import Overview
from harvest.service_calendar import WeekTask
from harvest.service_care import Withholding
from harvest.store.orchard import Orchard
from harvest.yields.result import Advice, Crop, CropAdvice, SeasonYield

__all__ = [
    "SPRAY_CAUTIONS",
    "Advice",
    "Basis",
    "Crop",
    "CropAdvice",
    "EventForecast",
    "HarvestError",
    "Orchard",
    "Overview",
    "PastForecast",
    "Records",
    "SeasonYield",
    "Source",
    "WeekShare",
    "WeekTask",
    "Withholding",
    "day_of_season",
    "season_label",
    "season_start",
]

KEPT = 64
Result = TypeVar("Result")


class _Slot:
    """A result that one caller computes while others that want it wait."""

    def __init__(self) -> None:
        self.lock = Lock()
        self.empty = True
        self.result: object = None


class Source:
    """An orchard's results by as-of date, each computed once until the orchard changes.

    Parameters
    ----------
    orchard : the open orchard.
    today : gives the present date; asked anew for every view.
    as_of : date to show when an address names none; without it the demo's own date, or today.
    """

    def __init__(
        self, orchard: Orchard, today: Callable[[], date], as_of: date | None = None
    ) -> None:
        self._orchard = orchard
        self._today = today
        self._as_of = as_of
        self._kept: OrderedDict[Hashable, _Slot] = OrderedDict()
        self._lock = Lock()

    def home_date(self) -> date:
        """The as-of date when none is asked for."""
        if self._as_of is not None:
            return self._as_of
        today = self._today()
        return self.overview(today).demo_as_of or today

    def latest_date(self) -> date:
        """The last day that can be asked for."""
        return max(self._today(), self.home_date())

    def overview(self, as_of: date) -> Overview:
        """Name, sites, trees and seasons of the orchard."""
        return self._once(service.overview, as_of)

    def records(self, as_of: date) -> Records:
        """All records known on the day."""
        return self._once(service.records, as_of)

    def forecast(self, as_of: date) -> list[EventForecast]:
        """Events of the running season of every tree."""
        return self._once(service.forecast, as_of)

    def past_forecasts(self, as_of: date) -> list[PastForecast]:
        """Past seasons' ripe dates beside what would have been forecast."""
        return self._once(service.past_forecasts, as_of)

    def yields(self, as_of: date) -> list[SeasonYield]:
        """Every tree's crop in every season."""
        return self._once(service.yields, as_of)

    def crop_load(self, as_of: date) -> list[CropAdvice]:
        """Strip, limit or carry for every standing tree."""
        return self._once(service.crop_load, as_of)

    def withholding(self, as_of: date) -> list[Withholding]:
        """May each standing tree be picked, by the labels as logged."""
        return self._once(service_care.withholding, as_of)

    def week(self, as_of: date) -> list[WeekTask]:
        """What the week from the day on asks for, what cannot wait first."""
        return self._once(service_calendar.week, as_of)

    def _once(self, use_case: Callable[[Orchard, date], Result], as_of: date) -> Result:
        key = (use_case.__name__, as_of, database_stamp(self._orchard))
        with self._lock:
            slot = self._kept.setdefault(key, _Slot())
            self._kept.move_to_end(key)
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        with slot.lock:
            if slot.empty:
                slot.result = use_case(self._orchard, as_of)
                slot.empty = False
            return cast(Result, slot.result)


def database_stamp(orchard: Orchard) -> Hashable:
    """Something that differs after every change to the database.

    For SQLite the size and time of the file and of its log of recent writes; for PostgreSQL the
    snapshot, which names the transactions whose changes can be seen.
    """
    if orchard.engine.dialect.name == "postgresql":
        with orchard.reading() as connection:
            return str(connection.execute(text("SELECT pg_current_snapshot()::text")).scalar())
    path = orchard.engine.url.database
    found = []
    for part in (Path(path or ""), Path(f"{path}-wal")):
        try:
            status = part.stat()
        except FileNotFoundError:
            found.append((0, 0))
        else:
            # Opening a database to read it makes an empty log, which says nothing.
            found.append((status.st_mtime_ns, status.st_size) if status.st_size else (0, 0))
    return tuple(found)
