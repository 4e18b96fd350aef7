"""What forecasts, labels and tables say of the calendar's items, written on them as notes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

import pandas as pd

from harvest.care.at_picking import AtPicking
from harvest.care.calendar_items import CalendarItem, with_notes
from harvest.care.spells import Note, dry_spell, frost_nights, kill_at
from harvest.care.withholding import Withholding
from harvest.records import FULL_BLOOM, Records
from harvest.weather.daily import Daily

# Items whose window lies this near are told what the weather has in store for them [d].
NEAR_DAYS = 30
FROST_DAYS = 14
# A night of frost so near makes a frost watch urgent [d].
SOON_DAYS = 7
# Fruit picked so long before it is first looked through in store is of the crop before: ours [d].
CROP_DAYS = 90
PRUNING = ("winter pruning", "summer pruning")


@dataclass(frozen=True)
class ItemNotes:
    """Writes on items what is known of their days and trees."""

    records: Records
    withheld: Sequence[Withholding]
    """What labels say of each tree."""
    weather: Mapping[str, Daily]
    """Each site's days on record, and those forecast."""
    ahead: Mapping[str, Daily]
    at_picking: Mapping[str, AtPicking]
    """Advice by species."""
    frost_kill: pd.DataFrame

    def on(self, item: CalendarItem) -> CalendarItem:
        """The item with its notes, and more urgent where they say so."""
        near = item.on(self.records.as_of, self.records.as_of + timedelta(days=NEAR_DAYS))
        if item.item in PRUNING and near:
            first = max(item.first_day, self.records.as_of)
            spell = dry_spell(first, item.last_day, *self._days(item))
            return with_notes(item, [spell.says])
        if item.item == "frost watch" and near:
            return self._with_frost(item)
        if item.item in ("picking", "maturity test"):
            advice = self.at_picking[item.what_species].says
            return with_notes(item, [*self._blocked(item), *advice])
        if item.item == "storage check":
            inside = self._picked_too_soon(item)
            keeps = self.at_picking[item.what_species].keeps
            return with_notes(item, [*inside, keeps], 0 if inside and near else None)
        return item

    def _days(self, item: CalendarItem) -> tuple[Daily | None, Daily | None]:
        return self.weather.get(item.site), self.ahead.get(item.site)

    @cached_property
    def _by_tree(self) -> dict[str, list[Withholding]]:
        found: dict[str, list[Withholding]] = {}
        for row in self.withheld:
            found.setdefault(row.tree, []).append(row)
        return found

    def _labels(self, item: CalendarItem) -> list[Withholding]:
        return [row for tree in item.trees for row in self._by_tree.get(tree, ())]

    def _blocked(self, item: CalendarItem) -> list[str]:
        return [
            f"{row.tree}: {text}"
            for row in self._labels(item)
            if row.status != "clear"
            for text in row.says
        ]

    def _picked_too_soon(self, item: CalendarItem) -> list[str]:
        """Which of the fruit that an item is about was picked inside a withholding period."""
        since = item.earliest - timedelta(days=CROP_DAYS)
        return [
            f"{row.tree}: {pick.says}"
            for row in self._labels(item)
            for pick in row.picked_inside
            if since <= pick.date <= item.last_day
        ]

    def _with_frost(self, item: CalendarItem) -> CalendarItem:
        first = max(item.first_day, self.records.as_of)
        last = min(item.last_day, self.records.as_of + timedelta(days=FROST_DAYS))
        notes = self._frost_nights(item, first, last) if first <= last else []
        soon = item.first_day <= self.records.as_of + timedelta(days=SOON_DAYS)
        urgent = soon and any(note.now for note in notes)
        return with_notes(item, [note.says for note in notes], 0 if urgent else None)

    def _frost_nights(self, item: CalendarItem, first: date, last: date) -> list[Note]:
        """What the frost table, the forecast and the record say of an item's nights."""
        stages = self.records.stages
        own = stages[stages["tree"].isin(item.trees) & (stages["season"] == item.season)]
        last_seen = own.sort_values("date")["bbch"].iloc[-1] if len(own) else FULL_BLOOM
        table, species = self.frost_kill, item.what_species
        kill = kill_at(table, species, int(last_seen)) or kill_at(table, species, FULL_BLOOM)
        return [] if kill is None else frost_nights(first, last, kill, *self._days(item))
