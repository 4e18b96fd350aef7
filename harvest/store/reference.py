"""The reference tables of `data/reference`, names resolved against them, and priors from them.

Tables are read once and handed out as copies. Numbers are floats (blank: NaN), yes/no columns
are booleans, everything else is text (blank: empty). What each column means, and its unit, is
written in data/reference/README.md.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import pandas as pd

from harvest.errors import FileFormatError, StoreError, UnknownNameError
from harvest.store.priors import (
    BloomPrior,
    Elsewhere,
    Evidence,
    RipeningPrior,
    bloom_at,
    cherry_evidence,
    combined,
    offset_evidence,
    range_evidence,
    with_elsewhere,
    with_sites,
)

__all__ = [
    "BloomPrior",
    "RipeningPrior",
    "bbch_table",
    "bearing_curve_table",
    "bloom_prior",
    "calendar_table",
    "cherry_offsets",
    "crop_load_table",
    "cultivar_table",
    "data_folder",
    "frost_kill_table",
    "pollination_table",
    "resolve_cultivar",
    "resolve_species",
    "ripening_prior",
    "species_table",
    "watch_table",
    "young_tree_table",
]

Row = dict[str, Any]
NUMBER = re.compile(r"_(low|high|days|c|cm|cm2)$|_(low|high)_|^(site_years|sites|leaf_.*|code)$")
NUMBERS = frozenset({"days_from_bloom_sites", "passes_usual", "bbch_from", "bbch_to", "distance_m"})
YES_NO = frozenset({"evergreen", "thinned"})


def data_folder() -> Path:
    """Folder with `reference/` and `demo/`, in a checkout and in an installed wheel alike.

    Raises
    ------
    StoreError : the program was installed without its data.
    """
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "_data", package.parent / "data"):
        if (folder / "reference").is_dir():
            return folder
    raise StoreError(
        "the program's reference tables are needed",
        given="no data folder beside the program",
        todo="Install the program again.",
    )


def _is_number(column: str) -> bool:
    return column in NUMBERS or NUMBER.search(column) is not None


@cache
def _table(name: str) -> pd.DataFrame:
    """One reference table, typed; kept for the life of the process and never handed out."""
    path = data_folder() / "reference" / f"{name}.csv"
    if not path.is_file():
        raise StoreError("a reference table is missing", where=path.name, todo="Install again.")
    frame = pd.read_csv(path, dtype=str, keep_default_na=False, encoding="utf-8")
    for column in frame.columns:
        try:
            if column in YES_NO:
                frame[column] = frame[column].map({"yes": True, "no": False}).astype(bool)
            elif _is_number(column):
                frame[column] = pd.to_numeric(frame[column].replace("", None)).astype(float)
        except ValueError as error:
            raise FileFormatError(
                "a number is needed", given=str(error), where=f"{path.name}, column {column}"
            ) from error
    return frame


def _without(frame: pd.DataFrame, source: str | None) -> pd.DataFrame:
    """Rows not computed from the data set named; a fresh copy either way."""
    if source is None:
        return frame.copy()
    derived = frame["derived_from"].str.casefold() == source.casefold()
    return frame[~derived].reset_index(drop=True)


def species_table() -> pd.DataFrame:
    """One row per species: names, bloom window at 45 N, days, heat base, sizes, storage."""
    return _table("species").copy()


def cultivar_table(*, exclude_source: str | None = None) -> pd.DataFrame:
    """One row per species and cultivar; rows derived from `exclude_source` are left out."""
    return _without(_table("cultivars"), exclude_source)


def cherry_offsets(*, exclude_source: str | None = None) -> pd.DataFrame:
    """Sweet cherry cultivars against Burlat [d], computed from Wenden et al. 2016.

    A test that scores forecasts on that data set passes `exclude_source="Wenden et al. 2016"`.
    """
    return _without(_table("cherry_offsets"), exclude_source)


def crop_load_table() -> pd.DataFrame:
    """Fruit per cm2 of trunk cross-section by species, bearing habit and leaf."""
    return _table("crop_load").copy()


def young_tree_table() -> pd.DataFrame:
    """Strip, limit or carry by species group, vigour and leaf."""
    return _table("young_trees").copy()


def bearing_curve_table() -> pd.DataFrame:
    """Leaf of full bearing by species and vigour."""
    return _table("bearing_curves").copy()


def bbch_table() -> pd.DataFrame:
    """Growth stage codes of pome and stone fruit (Meier 2001) in our own words."""
    return _table("bbch").copy()


def calendar_table() -> pd.DataFrame:
    """What a year asks for: items with their windows in days from bloom, ripe or season start."""
    return _table("calendar").copy()


def watch_table() -> pd.DataFrame:
    """Pests and diseases to look for, by days from bloom or degree days from a first catch."""
    return _table("watch").copy()


def pollination_table() -> pd.DataFrame:
    """Which species' pollen serves which, and over what distance [m]."""
    return _table("pollination").copy()


def frost_kill_table() -> pd.DataFrame:
    """Temperatures that kill 10 % and 90 % of buds in half an hour [degC], by stage."""
    return _table("frost_kill").copy()


def _key(name: str) -> str:
    """A name with case, accents, spaces, hyphens and apostrophes taken out."""
    plain = unicodedata.normalize("NFKD", name)
    return "".join(letter for letter in plain.casefold() if letter.isalnum())


def _names(row: Row, *columns: str) -> Iterator[str]:
    for column in columns:
        yield from (name.strip() for name in str(row[column]).split(";") if name.strip())


@cache
def _species_rows() -> dict[str, Row]:
    return {row["species"]: row for row in _rows("species")}


def _rows(table: str) -> list[Row]:
    return [
        {str(key): value for key, value in row.items()} for row in _table(table).to_dict("records")
    ]


@cache
def _species_by_name() -> tuple[dict[str, set[str]], list[str]]:
    """Species behind every name (folded), and all names as they are written."""
    known: dict[str, set[str]] = {}
    written: list[str] = []
    for species, row in _species_rows().items():
        for name in _names(row, "species", "latin", "also_called"):
            known.setdefault(_key(name), set()).add(species)
            written.append(name)
    return known, written


def _singular(key: str) -> list[str]:
    forms = [key]
    if key.endswith("ies"):
        forms.append(key[:-3] + "y")
    if key.endswith("es"):
        forms.append(key[:-2])
    if key.endswith("s"):
        forms.append(key[:-1])
    return forms


def resolve_species(name: str) -> str:
    """The table's name of a species from any of its names, trade or Latin, without case.

    Raises
    ------
    UnknownNameError : the name is not known (close matches listed) or fits several species
        ("cherry", "plum"; the candidates listed).
    """
    known, written = _species_by_name()
    found = next((known[form] for form in _singular(_key(name)) if form in known), set())
    if len(found) == 1:
        return next(iter(found))
    if not found:
        close = UnknownNameError("species", name, written)
        raise close if close.close else UnknownNameError("species", name, _species_rows())
    error = UnknownNameError(
        "species", name, found, where=f"{name!r} is the name of more than one species"
    )
    error.close = sorted(found)
    raise error


class _Cultivar(NamedTuple):
    """What the tables say of one cultivar; either half may be missing."""

    name: str
    row: Row | None
    cherry: Row | None


@cache
def _cultivars(species: str) -> dict[str, _Cultivar]:
    """Cultivars of a species by folded name; main names win over other names."""
    rows = [row for row in _rows("cultivars") if row["species"] == species]
    cherries = _rows("cherry_offsets") if species == "sweet cherry" else []
    found = {_key(row["cultivar"]): _Cultivar(row["cultivar"], row, None) for row in rows}
    for cherry in cherries:
        key = _key(cherry["cultivar"])
        own = found.get(key)
        found[key] = _Cultivar(own.name if own else cherry["cultivar"], own and own.row, cherry)
    for row in [*rows, *cherries]:
        for name in _names(row, "also_called"):
            found.setdefault(_key(name), found[_key(row["cultivar"])])
    return found


def resolve_cultivar(species: str, name: str) -> str | None:
    """The table's spelling of a cultivar from any of its names; None when it is not known.

    Raises
    ------
    UnknownNameError : the species is not known.
    """
    found = _cultivars(resolve_species(species)).get(_key(name))
    return found.name if found else None


def _species_evidence(species: str) -> Evidence:
    row = _species_rows()[species]
    return range_evidence(
        row["days_from_bloom_low"],
        row["days_from_bloom_high"],
        row["days_from_bloom_basis"],
        f"species range: {row['days_from_bloom_source']}",
    )


def _month_day(text: str) -> float:
    """Day of the year [d] of MM-DD in a year of 365 days."""
    month, day = (int(part) for part in text.split("-"))
    return float((date(2025, month, day) - date(2024, 12, 31)).days)


def _bloom_middle(species: str) -> float:
    """Middle of the bloom window at 45 N, day of the year [d]."""
    row = _species_rows()[species]
    return bloom_at(
        _month_day(row["bloom_start_45n"]), _month_day(row["bloom_end_45n"]), 45
    ).mean_day


def _reference(species: str, cultivar: str, exclude: str | None) -> tuple[str, Evidence]:
    """The cultivar that offsets of a species are measured from, and what is known of it."""
    for home in (species, *(other for other in _species_rows() if other != species)):
        if (found := _cultivars(home).get(_key(cultivar))) is not None:
            own = _evidence(home, found, exclude)
            return home, own if own is not None else _species_evidence(home)
    raise FileFormatError(
        "a reference cultivar must be in the table", given=repr(cultivar), where="cultivars.csv"
    )


def _used(row: Row | None, exclude: str | None) -> bool:
    return row is not None and (
        exclude is None or row["derived_from"].casefold() != exclude.casefold()
    )


def _evidence(species: str, cultivar: _Cultivar, exclude: str | None) -> Evidence | None:
    """All statements about a cultivar pooled and drawn in by the species' range, or None."""
    statements: list[Evidence] = []
    if cultivar.row is not None and _used(cultivar.row, exclude):
        statements += _listed(species, cultivar.row, exclude)
    if cultivar.cherry is not None and _used(cultivar.cherry, exclude):
        burlat = _cultivars(species)[_key("Burlat")].cherry
        days = cultivar.cherry["bloom_to_maturity_minus_burlat_days"] + (
            burlat["bloom_to_maturity_mean_days"] if burlat else float("nan")
        )
        statements.append(
            cherry_evidence(days, cultivar.cherry["site_years"], cultivar.cherry["source"])
        )
    return combined(statements, _species_evidence(species)) if statements else None


def _listed(species: str, row: Row, exclude: str | None) -> Iterator[Evidence]:
    """Statements of one row of cultivars.csv: its days from bloom, and its offset."""
    source = row["source"]
    if row["days_from_bloom_basis"]:
        sites = row["days_from_bloom_sites"]
        yield range_evidence(
            row["days_from_bloom_low"],
            row["days_from_bloom_high"],
            row["days_from_bloom_basis"],
            source,
            1 if pd.isna(sites) else sites,
        )
    if row["ripens_offset_basis"] not in ("", "reference"):
        home, reference = _reference(species, row["ripens_relative_to"], exclude)
        # Offsets compare picking dates: between species the bloom dates differ as well.
        earlier = _bloom_middle(home) - _bloom_middle(species) if home != species else 0.0
        yield offset_evidence(
            reference, row["ripens_offset_days"] + earlier, row["ripens_offset_basis"], source
        )


def ripening_prior(
    species: str,
    cultivar: str = "",
    *,
    exclude_source: str | None = None,
    elsewhere: Sequence[Elsewhere] = (),
) -> RipeningPrior:
    """Days from full bloom to ripe [d] for a cultivar, before the orchard's own records.

    Combines the cultivar's stated days, its offset from the reference cultivar and, for sweet
    cherry, the offsets computed from Wenden et al. 2016; an unknown cultivar gets the species'
    range. `exclude_source` leaves out what was computed from that data set ("Wenden et al. 2016").
    `elsewhere` is what other orchards saw of the cultivar.

    Raises
    ------
    UnknownNameError : the species is not known.
    """
    kind = resolve_species(species)
    found = _cultivars(kind).get(_key(cultivar))
    known = _evidence(kind, found, exclude_source) if found else None
    if known is not None or elsewhere:
        known = known or _species_evidence(kind)
        return with_sites(with_elsewhere(known, elsewhere), "cultivar")
    return with_sites(_species_evidence(kind), "species")


def bloom_prior(species: str, latitude: float, elevation_m: float = 0.0) -> BloomPrior:
    """Full bloom as day of season [d] at a latitude [deg] and height [m].

    From the species' window at 45 N and the bioclimatic law (Hopkins 1918, from memory).

    Raises
    ------
    UnknownNameError : the species is not known. QuantityError : the latitude is impossible.
    """
    row = _species_rows()[resolve_species(species)]
    return bloom_at(
        _month_day(row["bloom_start_45n"]),
        _month_day(row["bloom_end_45n"]),
        latitude,
        elevation_m,
        source="bloom window at 45 N (from memory), moved by latitude after Hopkins 1918",
    )
