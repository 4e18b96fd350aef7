"""The expected bloom and ripe dates of every row of the running seasons, species by species."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.phenology.blooming import FREEDOM as BLOOM_FREEDOM
from harvest.phenology.blooming import (
    UsualBloom,
    blooming_clocks,
    blooming_model,
    predict_blooms,
)
from harvest.phenology.cells import Cells, SiteNow, distinct, gather
from harvest.phenology.clocks import ClockKind, day_numbers
from harvest.phenology.distribution import DateSpread, not_yet
from harvest.phenology.past import tree_departures
from harvest.phenology.ripening import (
    CultivarPriors,
    predict_intervals,
    ripening_clocks,
    ripening_model,
)
from harvest.phenology.site_clocks import SiteClocks
from harvest.seasons import season_starts

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Clocks = tuple[str, ...] | None

FREEDOM = 6
TREE_WORTH = 4.5
# How much of an unlogged bloom's doubt goes on into the ripe date: an early bloom ripens early,
# but not by as much.
BLOOM_SHARE = 0.8
# Where a date was due with more than this chance, its absence may be the person's, not the tree's.
DUE = 0.9
# From the first flowers to full bloom [d] by BBCH code, and its spread (from memory).
OPENING_DAYS = {60: 5.0, 61: 4.0, 62: 3.0, 63: 2.0, 64: 1.0}
OPENING_SD = 2.5
SEEN_VARIANCE = 1e-6

# What is read of the running seasons.
FACTS = (
    "species", "back", "season", "latitude", "bloom", "own_bloom", "opening", "opening_bbch",
    "ripe", "usual_bloom", "usual_bloom_sd", "heat_base_c", "heat_upper_c",
)  # fmt: skip


@dataclass(frozen=True)
class Candidate:
    """Names of the only clocks to go by for each event; None for all of them, averaged."""

    bloom: Clocks = None
    ripe: Clocks = None


AVERAGED = Candidate()


@dataclass(frozen=True)
class Expectation:
    """Dates expected of each row: full bloom and ripe, and of how many seasons they were made."""

    bloom: DateSpread
    ripe: DateSpread
    seasons: Ints
    trees: Ints
    bloom_seasons: Ints


def expect(
    rows: pd.DataFrame, past: pd.DataFrame, clocks: SiteClocks, candidate: Candidate = AVERAGED
) -> Expectation:
    """Expected dates of rows of `running_seasons`.

    Parameters
    ----------
    rows, past : running and past tree-seasons (`harvest.phenology.past`), traits joined.
    candidate : the clocks to go by.
    """
    orchard = _Orchard(rows, past, clocks, candidate)
    bloom, ripe = np.full((2, len(rows)), np.nan), np.full((2, len(rows)), np.nan)
    for at in rows.groupby(["species", "back"]).indices.values():
        group = _Species(orchard, np.asarray(at))
        bloom[:, at] = group.blooms()
        ripe[:, at] = group.ripening(bloom[:, at])
    departures = tree_departures(past, TREE_WORTH)
    apart = np.array([departures.get(tree, 0.0) for tree in rows["tree"]])
    return Expectation(
        bloom=DateSpread(bloom[0], np.sqrt(bloom[1]), BLOOM_FREEDOM),
        ripe=DateSpread(ripe[0] + apart, np.sqrt(ripe[1]), FREEDOM),
        seasons=_distinct(past, "interval", "season", rows),
        trees=_distinct(past, "interval", "tree", rows),
        bloom_seasons=_distinct(past, "bloom_day", "season", rows),
    )


def _distinct(past: pd.DataFrame, known: str, what: str, rows: pd.DataFrame) -> Ints:
    """How many distinct values of a column each row's cultivar has where another is known."""
    some = past[["cultivar_key", what]][past[known].notna()].drop_duplicates()
    counts = Counter(some["cultivar_key"])
    return np.array([counts[key] for key in rows["cultivar_key"]], dtype=np.int64)


def _labelled(rows: pd.Series, past: pd.Series) -> tuple[NDArray[np.object_], Ints]:
    """Distinct names of both, in order, and the number of each row's and then each past one's."""
    both = np.concatenate([rows.to_numpy(dtype=object), past.to_numpy(dtype=object)])
    number, names = pd.factorize(both, sort=True)
    return names, number.astype(np.int64)


def _chosen(clocks: Clocks, sites: dict[int, SiteNow]) -> Clocks:
    """The clocks asked for, where any site has weather for one."""
    return clocks if any(now.clocks for now in sites.values()) else None


class _Orchard:
    """Rows and past as arrays, with sites, species and cultivars numbered."""

    def __init__(
        self, rows: pd.DataFrame, past: pd.DataFrame, clocks: SiteClocks, candidate: Candidate
    ) -> None:
        self.clocks = clocks
        self.candidate = candidate
        self.facts = {name: rows[name].to_numpy() for name in FACTS}
        size = len(rows)
        self.sites, site = _labelled(rows["site"], past["site"])
        names, cultivar = _labelled(rows["cultivar_key"], past["cultivar_key"])
        self.site, self.cultivar = site[:size], cultivar[:size]
        first = np.zeros(len(names), dtype=np.int64)
        first[cultivar[::-1]] = np.arange(len(cultivar))[::-1]
        self.priors = CultivarPriors(
            *(
                np.concatenate([each[name].to_numpy(dtype=float) for each in (rows, past)])[first]
                for name in ("prior_days", "prior_sd_days")
            )
        )
        self.intervals = self._gathered(past, site[size:], cultivar[size:], "interval")
        self.bloom_days = self._gathered(past, site[size:], cultivar[size:], "bloom_day")
        self._species = np.array([name.split("|", 1)[0] for name in names], dtype=object)

    def _gathered(self, past: pd.DataFrame, site: Ints, cultivar: Ints, what: str) -> Cells:
        value = past[what].to_numpy(dtype=float)
        known = ~np.isnan(value)
        return gather(
            Cells(
                site[known],
                cultivar[known],
                past["season"].to_numpy(dtype=np.int64)[known],
                value[known],
                past["bloom_number"].to_numpy(dtype=float)[known],
                np.ones(int(known.sum())),
            )
        )

    def of_species(self, cells: Cells, species: str) -> Cells:
        """The cells whose cultivar is of the species."""
        return cells.take((self._species == species)[cells.cultivar])


class _Species:
    """The rows of one species in the running season, or in the one before."""

    def __init__(self, orchard: _Orchard, at: Ints) -> None:
        self._orchard = orchard
        self._facts = {name: values[at] for name, values in orchard.facts.items()}
        self._back = int(self._facts["back"][0])
        self._site, self._cultivar = orchard.site[at], orchard.cultivar[at]
        self._season = self._facts["season"].astype(np.int64)
        self._name = str(self._facts["species"][0])
        self._today = int(orchard.clocks.as_of.astype(np.int64))
        start = season_starts(self._season, self._facts["latitude"])
        self._start = day_numbers(start).astype(float)
        self._bloomed = self._facts["own_bloom"].astype(bool)

    def _sites(self, cells: Cells, kinds: list[ClockKind], upper_c: float) -> dict[int, SiteNow]:
        limit = None if np.isnan(upper_c) else float(upper_c)
        orchard = self._orchard
        return {
            int(site): orchard.clocks.now(str(orchard.sites[site]), kinds, limit, self._back)
            for site in np.unique(cells.site)
        }

    def _targets(self, which: Bools, bloom: Floats) -> tuple[Cells, Ints]:
        """Distinct cells to predict, and which of them each chosen row is."""
        count = int(which.sum())
        return distinct(
            Cells(
                self._site[which],
                self._cultivar[which],
                self._season[which],
                np.full(count, np.nan),
                bloom,
                np.ones(count),
            )
        )

    def blooms(self) -> Floats:
        """Mean day number and squared scale of full bloom; the day itself where it was seen."""
        seen = self._bloomed
        out = np.zeros((2, len(seen)))
        out[0, seen] = day_numbers(self._facts["bloom"][seen])
        out[1, seen] = SEEN_VARIANCE
        if seen.all():
            return out
        targets, at = self._targets(~seen, np.zeros(int((~seen).sum())))
        cells = self._orchard.of_species(self._orchard.bloom_days, self._name)
        cells = cells.with_targets(targets)
        kinds = blooming_clocks(self._orchard.candidate.bloom or ())
        sites = self._sites(cells, kinds, np.nan)
        usual = self._usual(cells)
        model = blooming_model(usual.sd, _chosen(self._orchard.candidate.bloom, sites))
        found = predict_blooms(cells, usual, sites, model)
        mean = self._start[~seen] + found.mean[at] - 1
        spread = DateSpread(mean, np.sqrt(found.variance[at]), BLOOM_FREEDOM)
        waiting = spread.before(self._today) < DUE
        shift = self._later(spread, found.season_variance[at], at, waiting, self._site[~seen])
        out[:, ~seen] = mean + shift, spread.sd**2
        self._narrow_by_first_flowers(out)
        return out

    def _usual(self, cells: Cells) -> UsualBloom:
        """The species' usual bloom at each site: this season's rows know their own sites'."""
        day = self._facts["usual_bloom"].astype(float)
        known = dict(zip(self._site.tolist(), day.tolist(), strict=True))
        elsewhere = float(day.mean())
        by_site = {int(site): known.get(int(site), elsewhere) for site in np.unique(cells.site)}
        return UsualBloom(by_site, float(self._facts["usual_bloom_sd"].max()))

    def _narrow_by_first_flowers(self, out: Floats) -> None:
        """First flowers already seen narrow the date of full bloom."""
        code = self._facts["opening_bbch"].astype(float)
        use = ~self._bloomed & ~np.isnan(code)
        if use.any():
            days = np.array([OPENING_DAYS[int(value)] for value in code[use]])
            seen = day_numbers(self._facts["opening"][use]) + days
            weight, own = OPENING_SD**-2.0, 1.0 / out[1, use]
            out[:, use] = (weight * seen + own * out[0, use]) / (weight + own), 1 / (weight + own)

    def ripening(self, bloom: Floats) -> Floats:
        """Mean day number and squared scale of the ripe date."""
        everyone = np.ones(len(self._bloomed), dtype=bool)
        targets, at = self._targets(everyone, bloom[0])
        cells = self._orchard.of_species(self._orchard.intervals, self._name)
        cells = cells.with_targets(targets)
        base, upper = (float(self._facts[name][0]) for name in ("heat_base_c", "heat_upper_c"))
        asked = self._orchard.candidate.ripe
        sites = self._sites(cells, ripening_clocks(base, asked or ()), upper)
        model = ripening_model(_chosen(asked, sites))
        found = predict_intervals(cells, self._orchard.priors, sites, model)
        variance = found.variance[at] + BLOOM_SHARE * bloom[1]
        spread = DateSpread(bloom[0] + found.mean[at], np.sqrt(variance), FREEDOM)
        waiting = np.isnat(self._facts["ripe"]) & self._bloomed
        waiting = waiting & (spread.before(self._today) < DUE)
        shift = self._later(spread, found.season_variance[at], at, waiting, self._site)
        return np.array([spread.mean + shift, variance])

    def _later(
        self, spread: DateSpread, season_variance: Floats, case: Ints, waiting: Bools, site: Ints
    ) -> Floats:
        """Shift of each row's date because none that is waited for has come yet [d]."""
        shift = np.zeros(len(site))
        if not waiting.any():
            return shift
        _, one_each = np.unique(case[waiting], return_index=True)
        first = np.flatnonzero(waiting)[one_each]
        part = DateSpread(spread.mean[first], spread.sd[first], spread.freedom)
        moved = not_yet(part, season_variance[first], site[first], self._today)
        for each in np.unique(site[first]):
            shift[site == each] = moved[site[first] == each].mean()
        return shift
