"""Why a season was good or poor: what the records support, strongest evidence first.

These are candidates, never proof: several may have worked together, and what was not logged
cannot be named.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd

from harvest.compatibility import Kind, Parents
from harvest.records import Records
from harvest.thermal import LOW_CHILL_HOURS
from harvest.yields.expectation import GOOD, POOR, fair_table
from harvest.yields.frost_damage import LEAST_SHARE, bloom_days, frost_damage
from harvest.yields.load_rules import COMMON, MEMORY, YieldReference
from harvest.yields.plain_rows import plain_rows
from harvest.yields.result import Reason, SeasonReasons, Verdict
from harvest.yields.season_weather import SiteSeries, bloom_weather, site_series, winter_chill
from harvest.yields.wording import named, on

WSU = "Washington State University Extension (critical temperatures)"
# A crop this far above or below what was to be expected counts as heavy or light.
HEAVY, LIGHT = 1.25, 0.6
# Bees hardly fly below this afternoon temperature [degC]; so many wet days of ten, or so much
# colder than usual [K] with at least five years to tell, make a poor bloom.
BEES_FLY_C, WET_DAYS, COLDER_K, WARMER_K, LEAST_YEARS = 13.0, 6, 4.0, 3.0, 5
# A partner's full bloom within so many days overlaps [d]; thinning after so many is late.
OVERLAP_DAYS, LATE_THINNING_DAYS = 8, 45
HARMFUL = ("hail", "drought", "wind", "pest", "disease", "animal", "frost")
BY_SEVERITY = {0: 0.0, 1: 0.3, 2: 0.5, 3: 0.7}


def season_reasons(
    records: Records, fair: pd.DataFrame, reference: YieldReference
) -> list[SeasonReasons]:
    """Candidate reasons for every tree's season whose verdict is good or poor.

    Parameters
    ----------
    records : with seasons, and the site's weather. fair : `fair_table` of the records, or those
        rows of it that are asked about.
    reference : the reference tables.
    """
    judged = fair[fair["verdict"].isin([GOOD, POOR])]
    if judged.empty:
        return []
    evidence = _Evidence(records, judged, reference)
    rows = []
    for row in plain_rows(judged):
        found = evidence.poor(row) if row.verdict == POOR else evidence.good(row)
        rows.append(
            SeasonReasons(
                tree=row.tree,
                site=row.site,
                species=row.species,
                cultivar=row.cultivar,
                season=int(row.season),
                verdict=row.verdict,
                weight_kg=float(row.weight_kg),
                expected_kg=float(row.expected_kg),
                reasons=tuple(sorted(found, key=lambda reason: -reason.strength)),
            )
        )
    return rows


def reason_counts(rows: Sequence[SeasonReasons], verdict: Verdict) -> dict[str, int]:
    """Trees' seasons of a verdict by their strongest candidate reason, most frequent first."""
    causes = [
        row.reasons[0].cause if row.reasons else "no reason on record"
        for row in rows
        if row.verdict == verdict
    ]
    return dict(Counter(causes).most_common())


class _Evidence:
    """What the records hold on some trees' seasons, looked up row by row."""

    def __init__(self, records: Records, judged: pd.DataFrame, reference: YieldReference) -> None:
        seasons = sorted(set(judged["season"].tolist()))
        self.records = records
        blooms = bloom_days(records)
        blooms = blooms[blooms["season"].isin(seasons + [year - 1 for year in seasons])]
        asked = judged[["tree", "season"]]
        both = pd.concat([asked, asked.assign(season=asked["season"] - 1)]).drop_duplicates()
        own = blooms.merge(both, on=["tree", "season"])
        self.frost = _by_key(own.join(frost_damage(records, own, reference.frost_kill)))
        series = site_series(records)
        self.weather = _by_key(_with_bloom_weather(own, series))
        self.chill = {site: winter_chill(each, seasons) for site, each in series.items()}
        self.need = _ChillNeeds(reference)
        self.partners = _Partners(records, blooms, reference)
        self.events = _events(records, seasons)
        self.thinnings = _groups(records.thinnings, ["tree", "season"])
        before = fair_table(records, reference).assign(
            season=lambda table: table["season"] + 1)  # fmt: skip
        self.before = _by_key(before.merge(asked, on=["tree", "season"]))

    def poor(self, row: Any) -> list[Reason]:
        """Candidates for a poor season."""
        finders = (self._frost, self._events, self._chill, self._bloom, self._heavy_before,
                   self._thinned, self._late_thinning, self._no_partner)  # fmt: skip
        return [reason for finder in finders for reason in finder(row)]

    def good(self, row: Any) -> list[Reason]:
        """Candidates for a good season."""
        found = []
        before = self.before.get((row.tree, row.season))
        if before is not None and before.crop == "stripped":
            found.append(
                Reason("rested", 0.5, "Its fruit were stripped the season before.", COMMON)
            )
        elif (
            before is not None and before.counted and before.weight_kg < LIGHT * before.expected_kg
        ):
            text = (
                f"It bore little the season before: {before.weight_kg:.1f} kg, where"
                f" {before.expected_kg:.1f} kg were to be expected."
            )
            found.append(Reason("light crop before", 0.6, text, COMMON))
        weather = self.weather.get((row.tree, row.season))
        if weather is not None and weather.years >= LEAST_YEARS:
            warmer = weather.tmax_c - weather.usual_tmax_c
            if warmer >= WARMER_K:
                text = (
                    f"The bloom was {warmer:.1f} K warmer than usual on those days"
                    f" ({weather.tmax_c:.1f} °C by day)."
                )
                found.append(Reason("warm bloom", 0.4, text, COMMON))
        return found

    def _frost(self, row: Any) -> Iterator[Reason]:
        night = self.frost.get((row.tree, row.season))
        if night is None or not night.share >= LEAST_SHARE:
            return
        seen = f"full bloom {night.whose}"
        more = f" on {night.nights:.0f} nights" if night.nights > 1 else ""
        most = "" if np.isnan(night.kill90_c) else f", nine tenths at {night.kill90_c:.1f} °C"
        text = (
            f"Frost at {night.stage}: {night.tmin_c:.1f} °C on {on(night.night.date())}"
            f" ({seen} on {on(night.bloom.date())}); a tenth of the flowers die at"
            f" {night.kill10_c:.1f} °C{most}. About {night.share:.0%} were at risk{more}."
        )
        yield Reason("frost", 0.5 + 0.5 * night.share - (0 if night.own else 0.1), text, WSU)

    def _events(self, row: Any) -> Iterator[Reason]:
        for owner in (row.tree, row.site):
            for event in self.events.get((owner, row.season), ()):
                severity = 2 if np.isnan(event.severity) else int(event.severity)
                strength = BY_SEVERITY[severity] + (0.1 if owner == row.tree else 0.0)
                if strength <= 0:
                    continue
                note = f": {event.note}" if isinstance(event.note, str) else ""
                where = "" if owner == row.tree else " for the whole site"
                said = f"{event.event.capitalize()} was logged on {on(event.date.date())}{where}"
                yield Reason(event.event, strength, f"{said}{note}.", "the log")

    def _chill(self, row: Any) -> Iterator[Reason]:
        need, whose = self.need.of(row.species, row.cultivar)
        had = self.chill.get(row.site, {}).get(int(row.season))
        if had is None or not had < need:
            return
        short = 1 - had / need
        text = f"Winter chill came to {had:.0f} chill portions; {whose} needs about {need:.0f}."
        yield Reason("winter chill", 0.4 + 0.5 * min(short * 2, 1), text, MEMORY)

    def _bloom(self, row: Any) -> Iterator[Reason]:
        weather = self.weather.get((row.tree, row.season))
        if weather is None or np.isnan(weather.tmax_c):
            return
        days = f"in the ten days around full bloom ({on(weather.bloom.date())})"
        colder = weather.usual_tmax_c - weather.tmax_c
        usual = weather.years >= LEAST_YEARS and colder >= COLDER_K
        if weather.tmax_c < BEES_FLY_C or usual:
            text = f"Cold {days}: {weather.tmax_c:.1f} °C by day on average"
            if usual:
                text += f", {colder:.1f} K below those days' mean"
            strength = 0.35 + 0.05 * min(max(colder, 0), 6)
            yield Reason("cold bloom", strength, f"{text}; bees fly little.", COMMON)
        if weather.wet_days >= WET_DAYS:
            text = f"Wet {days}: {weather.wet_days:.0f} days of ten with rain."
            yield Reason("wet bloom", 0.4, text, COMMON)

    def _heavy_before(self, row: Any) -> Iterator[Reason]:
        before = self.before.get((row.tree, row.season))
        if before is None or not before.counted:
            return
        ratio = before.weight_kg / before.expected_kg if before.expected_kg > 0 else 0.0
        if ratio >= HEAVY:
            text = (
                f"It bore a heavy crop the season before: {before.weight_kg:.1f} kg,"
                f" {ratio - 1:.0%} more than was to be expected."
            )
            yield Reason("heavy crop before", min(0.3 + 0.3 * ratio, 0.85), text, COMMON)

    def _thinned(self, row: Any) -> Iterator[Reason]:
        for thinning in self.thinnings.get((row.tree, row.season), ()):
            if thinning.action == "strip":
                text = f"All fruit were stripped on {on(thinning.date.date())}."
                yield Reason("stripped", 1.0, text, "the log")
            elif not np.isnan(thinning.fruit_left):
                taken = "" if np.isnan(thinning.fruit_removed) else (
                    f", {thinning.fruit_removed:.0f} taken off")  # fmt: skip
                text = (
                    f"Fruit were thinned on {on(thinning.date.date())} to"
                    f" {thinning.fruit_left:.0f}{taken}: fewer, but larger."
                )
                yield Reason("thinned", 0.35, text, COMMON)

    def _late_thinning(self, row: Any) -> Iterator[Reason]:
        bloom = self.frost.get((row.tree, row.season - 1))
        for thinning in self.thinnings.get((row.tree, row.season - 1), ()):
            if bloom is None or thinning.action != "thin":
                continue
            after = (thinning.date - bloom.bloom).days
            if after > LATE_THINNING_DAYS:
                text = (
                    f"Thinning the season before came {after} days after full bloom, late for"
                    " the flower buds of this one."
                )
                yield Reason("late thinning before", 0.35, text, MEMORY)

    def _no_partner(self, row: Any) -> Iterator[Reason]:
        text = self.partners.missing(row)
        if text:
            yield Reason("no pollination partner", 0.5, text, COMMON)


class _ChillNeeds:
    """Chill portions that a cultivar, else its species, needs at least."""

    def __init__(self, reference: YieldReference) -> None:
        species = reference.species.set_index("species")["chill_portions_low"]
        self._species = species.to_dict()
        cultivars = reference.cultivars.dropna(subset="chill_portions_low")
        keys = zip(cultivars["species"], cultivars["cultivar"].str.casefold(), strict=True)
        self._own = dict(zip(keys, cultivars["chill_portions_low"], strict=True))
        low = reference.cultivars[reference.cultivars["chill_hours_high"] <= LOW_CHILL_HOURS]
        self._low = set(zip(low["species"], low["cultivar"].str.casefold(), strict=True))

    def of(self, species: str, cultivar: str) -> tuple[float, str]:
        """The need [chill portions], nan where it is not known, and whose it is.

        Of a low-chill cultivar the need of its species says nothing.
        """
        kind = (species, cultivar.casefold())
        if kind in self._own:
            return float(self._own[kind]), cultivar
        if kind in self._low:
            return np.nan, cultivar
        return float(self._species.get(species, np.nan)), f"the least of {named(species)}"


class _Partners:
    """Which others bloomed beside a tree that cannot set fruit alone, and may have served it."""

    def __init__(self, records: Records, blooms: pd.DataFrame, reference: YieldReference) -> None:
        self._parents = Parents(reference.species, reference.cultivars, reference.pollination)
        own = blooms[blooms["own"]]
        trees = zip(own["tree"], own["season"], strict=True)
        self._own = dict(zip(trees, own["bloom"], strict=True))
        kind = ["species", "cultivar"]
        distinct = own[["site", "season", *kind, "bloom"]].drop_duplicates()
        self._here = _groups(distinct, ["site", "season"])
        self._standing = _groups(records.trees[["site", *kind]].drop_duplicates(), ["site"])

    def missing(self, row: Any) -> str:
        """What to say where no partner was in bloom; empty where one was, or it is not known."""
        own = self._parents.kind(row.species, row.cultivar)
        if own.need != "needs partner":
            return ""
        seen = self._here.get((row.site, row.season), ())
        mine = self._own.get((row.tree, row.season))
        others = [] if mine is None else [e.bloom for e in seen if self._may_serve(own, e)]
        nearest = min((abs((bloom - mine).days) for bloom in others), default=None)
        if nearest is not None and nearest <= OVERLAP_DAYS:
            return ""
        if not any(self._may_serve(own, tree) for tree in self._standing.get((row.site,), ())):
            return (
                f"No other cultivar of {named(row.species)} whose pollen could serve it is on"
                f" record at {row.site}."
            )
        if nearest is not None:
            return (
                f"No partner was in bloom with it: the nearest full bloom of another cultivar was"
                f" {nearest} days apart."
            )
        return ""

    def _may_serve(self, own: Kind, other: Any) -> bool:
        """Whether another tree's pollen serves, or it is not known that it does not."""
        match = self._parents.match(own, self._parents.kind(other.species, other.cultivar))
        return match is not None and match.serves != "no"


def _with_bloom_weather(blooms: pd.DataFrame, series: dict[str, SiteSeries]) -> pd.DataFrame:
    parts = [
        rows.reset_index(drop=True).join(bloom_weather(series[str(site)], rows["bloom"].to_numpy()))
        for site, rows in blooms.groupby("site")
        if site in series
    ]
    return pd.concat(parts) if parts else blooms.iloc[:0]


def _events(records: Records, seasons: list[int]) -> dict[Any, list[Any]]:
    """Harmful events by their tree, or site where they befell all of it, and season."""
    events = records.events
    events = events[events["event"].isin(HARMFUL) & events["season"].isin(seasons)]
    return _groups(events.assign(owner=events["tree"].fillna(events["site"])), ["owner", "season"])


def _by_key(frame: pd.DataFrame) -> dict[tuple[str, int], Any]:
    return {(row.tree, row.season): row for row in plain_rows(frame)}


def _groups(frame: pd.DataFrame, keys: list[str]) -> dict[Any, list[Any]]:
    found: dict[Any, list[Any]] = {}
    for row in plain_rows(frame):
        found.setdefault(tuple(getattr(row, key) for key in keys), []).append(row)
    return found
