"""The use cases before planting: what will do at a place, what would fill weeks without fruit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.care.climate_fit import (
    WARMINGS_C,
    Candidate,
    ClimateFit,
    Scenario,
    scenarios,
    year_notes,
)
from harvest.care.climate_years import (
    CHILL_DAYS,
    ClimateYears,
    climate_years,
)
from harvest.care.gaps import GapWeek, gap_weeks, own_spans
from harvest.care.next_season import next_seasons
from harvest.care.site_days import made_whole, measured
from harvest.compatibility import Parents
from harvest.errors import InputError, UnknownNameError
from harvest.records import FULL_BLOOM, Records
from harvest.seasons import days_of_season, is_southern
from harvest.service_known import Known, known_on
from harvest.store.orchard import Orchard
from harvest.store.reference import (
    bloom_prior,
    cultivar_table,
    frost_kill_table,
    pollination_table,
    resolve_cultivar,
    resolve_species,
    ripening_prior,
    species_table,
)
from harvest.thermal import LOW_CHILL_HOURS
from harvest.tree_years import full_blooms

__all__ = [
    "ClimateFit",
    "GapWeek",
    "Place",
    "Scenario",
    "WinterChill",
    "climate_fit",
    "fill_gaps",
    "kinds_to_plant",
    "winter_chill",
]

LEAST_BLOOMS = 3
MOST_LATITUDE = 66  # nearer the poles a day may have no night [deg]
COLOUR_SHOWS = 57  # BBCH: pink or white shows
# What a cultivar departs from the mean of its species' blooms at a site [d]: from memory.
CULTIVAR_BLOOM_SD = 5.0
MODEL = (
    "Sequential model of chill, then heat (Dynamic Model portions: Fishman et al. 1987; degree "
    "hours: Richardson et al. 1975; degree days: Baskerville & Emin 1969), set to the usual dates."
)


@dataclass(frozen=True)
class Place:
    """Where something might be planted: a site, or coordinates with the weather of a site."""

    site: str
    """Site whose weather is taken."""
    latitude: float | None = None
    longitude: float | None = None
    """None: those of the site."""

    @property
    def is_site(self) -> bool:
        """Whether it is the site itself, with its trees and records."""
        return self.latitude is None


@dataclass(frozen=True)
class WinterChill:
    """What chill each winter of a place gave, with its temperatures raised by `warming_c`."""

    warming_c: float
    seasons: tuple[int, ...]
    portions: tuple[float, ...]
    """Chill portions of each season."""
    hours: tuple[float, ...]
    """Hours above 0 and up to 7.2 degC of each season [h]."""


def climate_fit(
    orchard: Orchard,
    as_of: date,
    place: Place,
    species: str | None = None,
    cultivar: str | None = None,
    *,
    known: Known | None = None,
) -> list[ClimateFit]:
    """How species and cultivars would fare at a place, the surest first.

    Raises UnknownNameError for a site, species or cultivar that is not known, InputError where
    coordinates lie in the other half of the world than the weather.
    """
    records = (known or known_on(orchard, as_of)).records
    return [fit for fit, _ in _fits(records, place, species, cultivar)]


def winter_chill(
    orchard: Orchard, as_of: date, place: Place, *, known: Known | None = None
) -> list[WinterChill]:
    """Each winter's chill at a place, as the years were and in warmer ones. Raises as above."""
    return [
        WinterChill(
            warming_c=years.warming_c,
            seasons=tuple(int(season) for season in years.seasons),
            portions=_totals(years.portions),
            hours=_totals(years.cold_hours),
        )
        for years in _years((known or known_on(orchard, as_of)).records, place)[1]
    ]


def kinds_to_plant() -> dict[str, list[str]]:
    """Every species of the tables with its cultivars."""
    found: dict[str, list[str]] = {str(name): [] for name in species_table()["species"]}
    table = cultivar_table()
    for species, cultivar in zip(table["species"], table["cultivar"], strict=True):
        found[str(species)].append(str(cultivar))
    return found


def fill_gaps(
    orchard: Orchard, as_of: date, site: str, *, known: Known | None = None
) -> list[GapWeek]:
    """Weeks in which nothing at a site is picked, and which cultivars would give fruit in them."""
    known = known or known_on(orchard, as_of)
    records = known.records
    name = _site(records, site)
    fits = _fits(records, Place(name), None, None)
    own = own_spans(records, next_seasons(records, known.traits)).get(name, [])
    latitude = float(records.sites.set_index("site").loc[name].to_dict()["latitude"])
    return gap_weeks(own, [fit for fit, _ in fits], [days for _, days in fits], latitude)


def _fits(
    known: Records, place: Place, species: str | None, cultivar: str | None
) -> list[tuple[ClimateFit, float]]:
    """Fits with the picking window of each [d], the surest first."""
    row, years = _years(known, place)
    site, latitude = str(row["site"]), years[0].latitude
    height = 0.0 if pd.isna(row["elevation_m"]) else float(row["elevation_m"])
    desk = _Desk(known if place.is_site else None, site, latitude, height)
    out = []
    for kind, name in _wanted(species, cultivar):
        candidate = desk.candidate(kind, name)
        fit = desk.fit(candidate, years, _name_of(place, site))
        out.append((fit, candidate.window_days))
    return sorted(out, key=lambda each: (-each[0].rank, each[0].species, each[0].cultivar))


def _name_of(place: Place, site: str) -> str:
    return site if place.is_site else f"{place.latitude:g}, {place.longitude or 0:g}"


def _years(known: Records, place: Place) -> tuple[pd.Series[Any], list[ClimateYears]]:
    """The row of the site whose weather it is, and its years, as they were and warmed."""
    site = _site(known, place.site)
    row = known.sites[known.sites["site"] == site].iloc[0]
    latitude = float(row["latitude"]) if place.latitude is None else place.latitude
    longitude = 0.0 if place.longitude is None else place.longitude
    if not (abs(latitude) <= MOST_LATITUDE and abs(longitude) <= 180):
        raise InputError(
            "a latitude from -66 to 66 and a longitude from -180 to 180 are needed",
            given=f"{latitude:g}, {longitude:g}",
        )
    if is_southern(latitude) != is_southern(float(row["latitude"])):
        raise InputError(
            "the weather must come from the same half of the world",
            given=f"latitude {latitude:g} with the weather of {site}",
            todo="Name a site on that side of the equator.",
        )
    record = measured(known).get(site)
    if record is None:
        raise InputError(
            "a site with weather on record is needed", given=f"{site}, which has none",
            todo="'harvest weather fetch' brings past years from stations near by.",
        )  # fmt: skip
    now = climate_years(record, latitude, made_whole(known, site))
    years = [now, *(now.warmed(by) for by in WARMINGS_C[1:])]
    return row, years


def _totals(running: NDArray[np.float64]) -> tuple[float, ...]:
    return tuple(float(total) for total in running[:, CHILL_DAYS - 1])


def _site(known: Records, name: str) -> str:
    for site in known.sites["site"]:
        if str(site).casefold() == name.casefold():
            return str(site)
    raise UnknownNameError("site", name, known.sites["site"])


def _wanted(species: str | None, cultivar: str | None) -> list[tuple[str, str]]:
    table = cultivar_table()
    kind = None if species is None else resolve_species(species)
    if cultivar is not None:
        for each in [kind] if kind else table["species"].unique():
            found = resolve_cultivar(str(each), cultivar)
            if found is not None:
                return [(str(each), found)]
        raise UnknownNameError("cultivar", cultivar, table["cultivar"])
    rows = table if kind is None else table[table["species"] == kind]
    kinds = species_table()["species"] if kind is None else [kind]
    named = list(zip(rows["species"], rows["cultivar"], strict=True))
    return [(str(a), str(b)) for a, b in [*((each, "") for each in kinds), *named]]


class _Desk:
    """The tables and the site's own records, asked about candidates."""

    def __init__(self, known: Records | None, site: str, latitude: float, height_m: float) -> None:
        self._latitude, self._height = latitude, height_m
        self._species = {row["species"]: row for row in species_table().to_dict("records")}
        self._cultivars = {
            (row["species"], row["cultivar"]): row for row in cultivar_table().to_dict("records")
        }
        kill = frost_kill_table()
        self._kill, self._kill_bud = (
            {
                row["species"]: row
                for row in kill[(kill["bbch_from"] <= code) & (kill["bbch_to"] >= code)].to_dict(
                    "records"
                )
            }
            for code in (FULL_BLOOM, COLOUR_SHOWS)
        )
        self._parents = Parents(species_table(), cultivar_table(), pollination_table())
        self._trees = [] if known is None else _standing(known, site)
        self._blooms = {} if known is None else _own_blooms(known, site)

    def candidate(self, species: str, cultivar: str) -> Candidate:
        """What the tables and the site's records say of one kind."""
        kind = self._species[species]
        own = self._cultivars.get((species, cultivar))
        bloom = self._bloom(species, cultivar)
        ripe = ripening_prior(species, cultivar)
        hours, hours_from = _need("chill_hours", own, {})
        low = hours is not None and hours[1] <= LOW_CHILL_HOURS
        portions, portions_from = _need("chill_portions", own, {} if low else kind)
        kill = self._kill.get(species)
        window = (kind["picking_window_days_low"] + kind["picking_window_days_high"]) / 2
        return Candidate(
            species=species,
            cultivar=cultivar,
            chill_portions=portions,
            chill_hours=hours,
            chill_source="; ".join(text for text in (portions_from, hours_from) if text),
            bloom_day=bloom[0],
            bloom_sd=bloom[1],
            bloom_source=bloom[2],
            days_to_ripe=ripe.mean_days,
            days_sd=ripe.sd_days,
            ripe_source=ripe.source,
            heat_base_c=_known(kind["heat_base_c"]),
            heat_upper_c=_known(kind["heat_upper_c"]),
            kill_c=_kills(kill),
            kill_bud_c=_kills(self._kill_bud.get(species)),
            kill_source="" if kill is None else str(kill["source"]),
            window_days=0.0 if np.isnan(window) else float(window),
        )

    def fit(self, what: Candidate, years: list[ClimateYears], place: str) -> ClimateFit:
        """How the candidate fares."""
        notes = year_notes(years[0])
        if what.chill_portions is None and what.chill_hours is None:
            notes.append(f"The chill {what.species} needs is not known.")
        if what.kill_c is None:
            notes.append(f"No frost-kill temperatures of {what.species} are in the table.")
        seasons = years[0].seasons
        return ClimateFit(
            species=what.species,
            cultivar=what.cultivar,
            place=place,
            years=len(seasons),
            first_season=int(seasons[0]) if len(seasons) else None,
            last_season=int(seasons[-1]) if len(seasons) else None,
            chill_portions=what.chill_portions,
            chill_hours=what.chill_hours,
            scenarios=scenarios(what, years),
            partners=self._partners(what),
            notes=tuple(notes),
            sources=tuple(
                text
                for text in (
                    what.chill_source and f"Chill: {what.chill_source}",
                    f"Bloom: {what.bloom_source}",
                    f"Days from bloom: {what.ripe_source}",
                    what.kill_source and f"Frost: {what.kill_source}",
                    MODEL,
                )
                if text
            ),
        )

    def _bloom(self, species: str, cultivar: str) -> tuple[float, float, str]:
        for key in ((species, cultivar), (species, "")):
            if key in self._blooms:
                mean, n = self._blooms[key]
                own = "its own" if key[1] and cultivar else "the species'"
                sd = 0.0 if key == (species, cultivar) and cultivar else CULTIVAR_BLOOM_SD
                return mean, sd, f"{own} blooms logged here, {n} seasons"
        prior = bloom_prior(species, self._latitude, self._height)
        return prior.mean_day, prior.sd_days, prior.source

    def _partners(self, what: Candidate) -> tuple[str, ...]:
        if not what.cultivar:
            return ()
        target = self._parents.kind(what.species, what.cultivar)
        found = []
        for tree, species, cultivar in self._trees:
            match = self._parents.match(target, self._parents.kind(species, cultivar))
            if match is not None and match.serves == "yes":
                found.append(f"{tree} ({cultivar})")
        return tuple(found)


def _known(value: Any) -> float | None:
    return None if pd.isna(value) else float(value)


def _kills(row: dict[Any, Any] | None) -> tuple[float, float] | None:
    return None if row is None else (float(row["kill10_c"]), float(row["kill90_c"]))


def _need(
    stem: str, own: dict[Any, Any] | None, kind: dict[Any, Any]
) -> tuple[tuple[float, float] | None, str]:
    """A chill requirement of the cultivar, else of its species; never one unit from the other."""
    rows = (("cultivar", own or {}), ("species", kind))
    for level, row in rows:
        low, high = row.get(f"{stem}_low"), row.get(f"{stem}_high")
        if low is None or high is None or (pd.isna(low) and pd.isna(high)):
            continue
        ends = (high if pd.isna(low) else low, low if pd.isna(high) else high)
        basis = str(row.get(f"{stem}_basis", "")).replace("memory", "from memory")
        return (float(ends[0]), float(ends[1])), f"{stem.replace('_', ' ')} of the {level}: {basis}"
    return None, ""


def _standing(known: Records, site: str) -> list[tuple[str, str, str]]:
    trees = known.trees[(known.trees["site"] == site) & known.trees["removed"].isna()]
    columns = trees[["tree", "species", "cultivar"]]
    return [(str(a), str(b), str(c)) for a, b, c in columns.itertuples(index=False)]


def _own_blooms(known: Records, site: str) -> dict[tuple[str, str], tuple[float, int]]:
    """Mean day of season of full bloom and its seasons, by cultivar and by species ("")."""
    blooms = full_blooms(known.stages).merge(
        known.trees[["tree", "site", "species", "cultivar", "latitude"]], on="tree"
    )
    blooms = blooms[blooms["site"] == site]
    if blooms.empty:
        return {}
    blooms = blooms.assign(
        day=days_of_season(blooms["bloom"], blooms["season"], blooms["latitude"])
    )
    found: dict[tuple[str, str], tuple[float, int]] = {}
    for keys in (["species", "cultivar"], ["species"]):
        yearly = blooms.groupby([*keys, "season"])["day"].mean().groupby(level=keys)
        for key, mean, n in zip(yearly.mean().index, yearly.mean(), yearly.size(), strict=True):
            names: Sequence[str] = key if isinstance(key, tuple) else (str(key), "")
            if n >= LEAST_BLOOMS:
                found[str(names[0]), str(names[1])] = (float(mean), int(n))
    return found
