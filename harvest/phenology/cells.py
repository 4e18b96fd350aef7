"""Records gathered into cells, a cultivar at a site in a season, and the sites they stand on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from harvest.phenology.clocks import Clock, day_numbers, day_slots
from harvest.seasons import calendar_season, season_start, season_starts

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Cells:
    """Cells of one species, arrays of shape (n,).

    `site`, `cultivar` are numbers, `season` the season itself. `value` is what is looked for [d],
    nan where it is to be predicted; `bloom` the day number of full bloom (nan where it does not
    matter); `trees` how many trees stand behind a known value.
    """

    site: Ints
    cultivar: Ints
    season: Ints
    value: Floats
    bloom: Floats
    trees: Floats

    def __len__(self) -> int:
        return len(self.site)

    def take(self, which: Bools | Ints) -> Cells:
        """The cells chosen."""
        return Cells(
            self.site[which],
            self.cultivar[which],
            self.season[which],
            self.value[which],
            self.bloom[which],
            self.trees[which],
        )

    def with_targets(self, targets: Cells) -> Cells:
        """These cells, then those to be predicted."""
        pairs = zip(self._arrays(), targets._arrays(), strict=True)
        return Cells(*(np.concatenate(pair) for pair in pairs))

    def _arrays(self) -> tuple[NDArray[np.generic], ...]:
        return self.site, self.cultivar, self.season, self.value, self.bloom, self.trees


def gather(cells: Cells) -> Cells:
    """One cell for all trees of a cultivar at a site in a season: mean value and bloom."""
    _, first, at = np.unique(
        renumbered(cells.site, cells.cultivar, cells.season), return_index=True, return_inverse=True
    )
    count = np.bincount(at, minlength=len(first)).astype(float)
    value = np.bincount(at, cells.value, minlength=len(first)) / count
    bloom = np.bincount(at, cells.bloom, minlength=len(first)) / count
    one = cells.take(first)
    return Cells(one.site, one.cultivar, one.season, value, bloom, count)


def distinct(cells: Cells) -> tuple[Cells, Ints]:
    """Cells that differ in site, cultivar, season or bloom, and which of them each one is."""
    key = renumbered(
        cells.site, cells.cultivar, cells.season, np.round(cells.bloom).astype(np.int64)
    )
    _, first, at = np.unique(key, return_index=True, return_inverse=True)
    return cells.take(first), at


@dataclass(frozen=True)
class SiteNow:
    """A site as the forecast sees it: latitude [deg], clocks, and how far its weather is known.

    `clocks` all run on the site's weather; empty where there is none. `known_to` is the day
    number of the last day of weather; `season` the one that is meant.
    """

    latitude: float
    clocks: tuple[Clock, ...]
    known_to: int
    season: int

    def lead(self) -> int:
        """Days from the season's start to the last known day of weather [d]."""
        start = season_start(self.season, self.latitude)
        return self.known_to - int(np.datetime64(start, "D").astype(np.int64))

    def starts(self, seasons: Ints) -> Ints:
        """Day number of the first day of seasons."""
        return day_numbers(season_starts(seasons, self.latitude))

    def known_in(self, seasons: Ints) -> Ints:
        """Day number of the same day of the season in other seasons."""
        return self.starts(seasons) + self.lead()


def site_now(
    latitude: float, clocks: tuple[Clock, ...], known_to: int, as_of: np.datetime64, back: int
) -> SiteNow:
    """A site on an as-of date, in the season the calendar gives or `back` seasons before it."""
    day = as_of.astype("datetime64[D]").item()
    return SiteNow(latitude, clocks, known_to, calendar_season(day, latitude) - back)


def season_slot(days: Floats, latitude: float) -> Floats:
    """Day of the year [d, 0 on 1 January] of a day of season [d, 1 on its first day]."""
    first = float(day_slots(day_numbers(season_starts(np.array([2001]), latitude)))[0])
    return np.asarray((days - 1.0 + first) % 366)


def renumbered(*labels: Ints) -> Ints:
    """Numbers 0, 1, … of the distinct combinations of labels, in their order."""
    number = np.zeros(len(labels[0]), dtype=np.int64)
    for each in labels:
        values, place = np.unique(each, return_inverse=True)
        number = np.unique(number * max(len(values), 1) + place, return_inverse=True)[1]
    return number


def shrunk_means(values: Floats, group: Ints, worth: float) -> Floats:
    """Mean of each value's group drawn towards the mean of all by `worth` values.

    nan values are left out; all nan where there is no value at all.
    """
    good = ~np.isnan(values)
    total = np.bincount(group[good], values[good], minlength=int(group.max()) + 1)
    count = np.bincount(group[good], minlength=int(group.max()) + 1)
    overall = values[good].mean() if good.any() else np.nan
    return np.asarray(((total + worth * overall) / (count + worth))[group])
