"""What forms, tables and commands have to know of records before anything is typed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time

import pandas as pd

from harvest.records import EVENTS, fields
from harvest.store.about import read_about
from harvest.store.browsing import read_products
from harvest.store.logging_records import MEASURED
from harvest.store.naming import row_names, trees_as_of
from harvest.store.orchard import Orchard
from harvest.store.reading import read_kind
from harvest.store.reference import bbch_table, cultivar_table, species_table
from harvest.units import QUANTITIES

__all__ = [
    "Column",
    "EntryLists",
    "GrowthStages",
    "RecordField",
    "entry_lists",
    "event_names",
    "growth_stages",
    "kinds_of_fruit",
    "log_columns",
    "record_fields",
    "spreadsheet_text",
]


@dataclass(frozen=True)
class Column:
    """A column that a record may have, and what it means."""

    name: str
    help: str

    @staticmethod
    def unit_of(name: str) -> str:
        """The column's unit, blank for words and plain numbers."""
        unit = QUANTITIES[name].unit if name in QUANTITIES else "1"
        return {"1": "", "d": "days", "degBrix": "°Brix"}.get(unit, unit)


# What a column without a unit means, where its name does not tell.
TOLD = {
    "action": "What was done: strip (all fruit off) or thin (some)",
    "also_reached": "Other trees it reached: names or row 3, between semicolons",
    "cause": "Why fruit was graded out",
    "crop": "Crop, as on the label",
    "last": "Last pick of this season",
    "observer": "Who saw it",
    "rate": "Rate, as it was mixed",
    "re_entry": "When people may go in again, as on the label",
    "reason": "Against what",
    "registration": "Registration number, as on the label",
    "species": "Its species, where that is another",
}


def log_columns(kind: str) -> tuple[Column, ...]:
    """The columns of a kind of record besides whose it is and when."""
    found = []
    for field in fields(kind):
        if field.name in ("tree", "site", "date", "time_of_day"):
            continue
        quantity = QUANTITIES.get(field.header)
        plain = TOLD.get(field.header, field.header.replace("_", " "))
        told = quantity.meaning if quantity else plain
        unit = Column.unit_of(field.header)
        words = " (yes or no)" if field.type is bool else f" ({unit})" if unit else ""
        if field.name in MEASURED:
            words = ", with its unit"
        found.append(Column(field.header, f"{told[0].upper()}{told[1:]}{words}."))
    return tuple(found)


@dataclass(frozen=True)
class RecordField:
    """A column of a kind of record as a table or a form needs to know it."""

    header: str
    number: bool
    choices: tuple[str, ...]
    needed: bool


def record_fields(kind: str) -> tuple[RecordField, ...]:
    """All columns of a kind of record; a spray's time of day is part of its date."""
    return tuple(
        RecordField(
            field.header,
            field.type in (int, float),
            ("yes", "no") if field.type is bool else field.choices,
            field.value_needed,
        )
        for field in fields(kind)
        if field.type is not time
    )


@dataclass(frozen=True)
class EntryLists:
    """What a form has to know of an orchard before anything is typed."""

    trees: pd.DataFrame
    """Standing trees by site, row and position: tree, site, species and cultivar as grafted."""
    sites: pd.DataFrame
    """Sites with their latitude [deg]."""
    products: tuple[str, ...]
    """Products that were sprayed before."""
    fixed_day: date | None
    """The demo's own day; None for an orchard that lives today."""


def entry_lists(orchard: Orchard) -> EntryLists:
    """What a form has to know, read at once."""
    with orchard.reading() as connection:
        trees = trees_as_of(connection, date.max)
        sites = read_kind(connection, "sites")
        products = read_products(connection)
    standing = trees.assign(row_name=row_names(trees))[trees["removed"].isna()]
    order = ["site", "row", "position", "tree"]
    return EntryLists(
        standing.sort_values(order, na_position="last", kind="stable", ignore_index=True),
        sites[["site", "latitude"]],
        products,
        read_about(orchard).demo_as_of,
    )


def event_names() -> tuple[str, ...]:
    """What can befall a tree or a site."""
    return EVENTS


@dataclass(frozen=True)
class GrowthStages:
    """Growth stages in words, by group of species and BBCH code; and the group of each species."""

    groups: Mapping[str, str]
    words: Mapping[str, Mapping[int, str]]


def growth_stages() -> GrowthStages:
    """The growth stages that have words here."""
    kinds, stages = species_table(), bbch_table()
    words: dict[str, dict[int, str]] = {}
    for group, code, name in zip(
        stages["species_group"], stages["code"], stages["stage_name"], strict=True
    ):
        words.setdefault(str(group), {})[int(code)] = str(name)
    return GrowthStages(dict(zip(kinds["species"], kinds["group"], strict=True)), words)


def kinds_of_fruit(trees: pd.DataFrame | None = None) -> dict[str, tuple[str, ...]]:
    """Every species known here with its cultivars, those of some trees among them."""
    columns = ["species", "cultivar"]
    known = pd.concat([frame[columns] for frame in (cultivar_table(), trees) if frame is not None])
    return {
        str(species): tuple(sorted(set(known.loc[known["species"] == species, "cultivar"])))
        for species in species_table()["species"]
    }


def spreadsheet_text(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Rows of `Shown` records to be pasted into a spreadsheet: tabs between, no line breaks.

    Their cells are written so already that no spreadsheet takes one for a formula.
    """
    lines = [[" ".join(cell.split()) for cell in row] for row in (header, *rows)]
    return "\n".join("\t".join(line) for line in lines)
