"""Frost while buds show colour, flowers are open or fruit is small: what the day's stage bears."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import pandas as pd

from harvest.care import texts
from harvest.care.pollination import Pollination
from harvest.care.spells import frost_nights, kill_at
from harvest.records import FULL_BLOOM, Records
from harvest.weather.daily import Daily

# Nights that count: from buds showing colour, before the first open flower, to small fruit after
# the last [d]. Days from memory.
BUDS_BEFORE, FRUIT_AFTER = 6, 16
AHEAD_DAYS = 14
When = Literal["to come", "now", "over"]


@dataclass(frozen=True, slots=True)
class BloomFrost:
    """What frost does to the flowers of one species at a site, at the stage they are in."""

    site: str
    species: str
    trees: tuple[str, ...]
    when: When
    first: date
    last: date
    """First and last night that counts this season, by logged or forecast bloom."""
    stage: str
    """Stage by the frost table's name."""
    stage_logged: date | None
    """Day the stage was logged; None: not logged, full bloom is shown instead."""
    kill10_c: float
    kill90_c: float | None
    """Air temperature that kills a tenth, nine tenths, in half an hour [degC]."""
    source: str
    says: tuple[str, ...]
    """What the forecast and the record say of the nights to come; empty when it is over."""
    cautions: tuple[str, ...] = (texts.FROST_WORK,)


def bloom_frosts(
    records: Records,
    blooms: Sequence[Pollination],
    table: pd.DataFrame,
    weather: Mapping[str, Daily],
    ahead: Mapping[str, Daily],
) -> list[BloomFrost]:
    """Frost at bloom of each species at each site; those without kill temperatures are left out.

    Parameters
    ----------
    blooms : the trees' blooms of the running season. table : kill temperatures by stage.
    weather, ahead : the record and the forecast of each site.
    """
    groups: dict[tuple[str, str], list[Pollination]] = {}
    for each in blooms:
        groups.setdefault((each.site, each.species), []).append(each)
    found = []
    for (site, _), trees in groups.items():
        frost = _frost(records, trees, table, weather.get(site), ahead.get(site))
        if frost is not None:
            found.append(frost)
    return sorted(found, key=lambda each: (ORDER.index(each.when), each.first, each.species))


ORDER: tuple[When, ...] = ("now", "to come", "over")


def _frost(
    records: Records,
    trees: Sequence[Pollination],
    table: pd.DataFrame,
    record: Daily | None,
    ahead: Daily | None,
) -> BloomFrost | None:
    starts = [each.bloom_first for each in trees if each.bloom_first is not None]
    ends = [each.bloom_last for each in trees if each.bloom_last is not None]
    if not starts or not ends:
        return None
    first = min(starts) - timedelta(days=BUDS_BEFORE)
    last = max(ends) + timedelta(days=FRUIT_AFTER)
    today = records.as_of
    when: When = "to come" if today < first else "over" if today > last else "now"
    code, logged = _stage(records, trees) if when == "now" else (FULL_BLOOM, None)
    species = trees[0].species
    kill = kill_at(table, species, code)
    if kill is None:
        kill, logged = kill_at(table, species, FULL_BLOOM), None
    if kill is None:
        return None
    says: tuple[str, ...] = ()
    if when != "over":
        nights = (max(first, today), min(last, max(first, today) + timedelta(days=AHEAD_DAYS)))
        near = ahead if when == "now" else None
        says = tuple(note.says for note in frost_nights(*nights, kill, record, near)[1:])
    return BloomFrost(
        site=trees[0].site,
        species=species,
        trees=tuple(each.tree for each in trees),
        when=when,
        first=first,
        last=last,
        stage=kill.stage,
        stage_logged=logged,
        kill10_c=kill.kill10_c,
        kill90_c=kill.kill90_c,
        source=kill.source,
        says=says,
    )


def _stage(records: Records, trees: Sequence[Pollination]) -> tuple[int, date | None]:
    """The latest stage that was logged on one of the trees this season, and when."""
    names = [each.tree for each in trees]
    stages = records.stages
    mine = stages[stages["tree"].isin(names) & (stages["season"] == trees[0].season)]
    if mine.empty:
        return FULL_BLOOM, None
    row = mine.sort_values("date").iloc[-1]
    return int(row["bbch"]), row["date"].date()
