"""What each tree gave in each season: weight, fruit, passes, and how that compares.

Four kinds of season are kept apart and never averaged together: picked; stripped (all fruit were
removed and none picked); none (a season without a crop, logged or weighed as nothing); and not
recorded. A season that is not over appears only once something of its crop is on record.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from harvest.records import Records
from harvest.seasons import ONE_DAY, Dates, Floats, Ints
from harvest.yields.result import SeasonYield
from harvest.yields.tree_seasons import QUIET_DAYS, Bools, TreeSeasons
from harvest.yields.trunk import girths_on, trunk_cross_section

CROPS = ("picked", "stripped", "none", "not recorded")
PICKED, STRIPPED, NONE, NOT_RECORDED = range(4)
# A tree's other picked seasons needed before one of them can be called high or low.
LEAST_OTHERS = 2
# Sums are rounded to a millionth of a gram, so that 0.1 + 0.2 is 0.3 kg wherever it is shown.
KG_DIGITS = 9
NO_DAY = np.datetime64("NaT", "D")
_FAR = np.iinfo(np.int64).max


def season_yields(records: Records) -> list[SeasonYield]:
    """What each tree gave in each season it stood, by tree, oldest season first.

    Parameters
    ----------
    records : with a `season` column in picks, thinnings and events
        (`harvest.tree_years.with_seasons`).

    A season runs in this list from the tree's first leaf to its removal or the as-of day; see
    `yield_table` for the rules.
    """
    columns = _columns(records)
    plain = [_plain(name, columns[name]) for name in SeasonYield.__dataclass_fields__]
    with collector_resting():
        return list(map(SeasonYield, *plain))


def yield_table(records: Records) -> pd.DataFrame:
    """The same as `season_yields` in one frame, columns named as the fields of `SeasonYield`.

    - `crop` is "picked" where the picks weigh something; "none" where they weigh nothing or no
      crop was logged, for the tree or its whole site; "stripped" where the fruit were stripped
      and none picked. Weight is 0 kg for "none", and unknown (nan) for the last two kinds.
    - `fruit_count` and `graded_out_kg` are sums only if every pass has the value; what is known of
      the rest stands in `fruit_counted` and `graded_out_noted_kg`.
    - Picking counts as complete once a pass is marked the last, 45 days have gone by since the
      latest pass, or the season is over. Until then nothing is compared.
    - `kg_per_cm2` takes the girth on the day of the last pick (`trunk.girths_on`).
    - `against_own_mean` = weight / mean of the tree's other complete picked seasons - 1, where
      there are at least two. Young trees grow, so their first crops lie below it.
    """
    columns = _columns(records)
    return pd.DataFrame({name: columns[name] for name in SeasonYield.__dataclass_fields__})


def _columns(records: Records) -> dict[str, NDArray[Any]]:
    """Every field of `SeasonYield` as an array over the seasons that are shown."""
    cells = TreeSeasons(records)
    columns = _picked(cells)
    passes = columns["passes"] > 0
    over = cells.over()
    crop = _crop_state(cells, columns["weight_kg"], passes)
    shown = (cells.stood() & over) | (crop != NOT_RECORDED)
    columns["crop"] = crop
    columns["complete"] = over | _finished(cells, columns["last_pick"]) | (crop != PICKED)
    columns["weight_kg"] = np.where(
        crop == PICKED, columns["weight_kg"], np.where(crop == NONE, 0.0, np.nan)
    )
    columns["season"] = cells.season
    columns["leaf"] = cells.season - cells.spread(cells.first_season) + 1
    columns = {name: values[shown] for name, values in columns.items()}
    tree = cells.tree[shown]
    for name in ("tree", "site", "species", "cultivar"):
        columns[name] = records.trees[name].to_numpy(dtype=object)[tree]
    _compare(columns, tree, records.girths)
    columns["crop"] = np.array(CROPS, dtype=object)[columns["crop"]]
    return columns


def _picked(cells: TreeSeasons) -> dict[str, NDArray[Any]]:
    """Sums, counts and dates of the picks in every cell."""
    picks = cells.records.picks
    cell = cells.of(picks)
    weight = picks["weight_kg"].to_numpy(dtype=float)
    fruit = picks["fruit_count"].to_numpy(dtype=float)
    graded = picks["graded_out_kg"].to_numpy(dtype=float)
    day = picks["date"].to_numpy().astype("datetime64[D]").astype(np.int64)
    gave = weight > 0
    first = np.full(cells.size, _FAR)
    last = np.full(cells.size, -_FAR)
    np.minimum.at(first, cell[gave], day[gave])
    np.maximum.at(last, cell[gave], day[gave])
    counted, noted = ~np.isnan(fruit), ~np.isnan(graded)
    fruit_counted = _sums(cell, fruit, counted, cells.size)
    graded_noted = np.round(_sums(cell, graded, noted, cells.size), KG_DIGITS)
    counted_g = 1000 * _sums(cell, weight, counted & (fruit > 0), cells.size)
    none_left_out = _counts(cell, gave & ~counted, cells.size) == 0
    none_unnoted = _counts(cell, gave & ~noted, cells.size) == 0
    return {
        "weight_kg": np.round(np.bincount(cell, weight, cells.size), KG_DIGITS),
        "passes": _passes(cell, day, picks["pass_number"].to_numpy(dtype=float), cells.size),
        "fruit_counted": fruit_counted,
        "fruit_count": np.where(none_left_out, fruit_counted, np.nan),
        "mean_fruit_g": np.divide(
            counted_g, fruit_counted, out=np.full(cells.size, np.nan), where=fruit_counted > 0
        ),
        "graded_out_noted_kg": graded_noted,
        "graded_out_kg": np.where(none_unnoted, graded_noted, np.nan),
        "first_pick": _days(first, first < _FAR),
        "last_pick": _days(last, last > -_FAR),
    }


def _counts(cell: Ints, where: Bools, size: int) -> Ints:
    return np.bincount(cell[where], minlength=size)


def _sums(cell: Ints, values: Floats, where: Bools, size: int) -> Floats:
    """Sum per cell of the values there are; nan in a cell without any."""
    total = np.bincount(cell[where], values[where], size)
    return np.where(_counts(cell, where, size) > 0, total, np.nan)


def _days(numbers: Ints, known: Bools) -> Dates:
    return np.where(known, np.where(known, numbers, 0).astype("datetime64[D]"), NO_DAY)


def _passes(cell: Ints, day: Ints, number: Floats, size: int) -> Ints:
    """Passes per cell: rows with the same pass number are one; without a number, one per day."""
    numbered = ~np.isnan(number)
    label = np.where(numbered, np.where(numbered, number, 0), day + (1 << 22)).astype(np.int64)
    passes = np.sort(cell * (1 << 24) + label)
    new = np.diff(passes, prepend=-1) > 0
    return np.bincount(passes[new] >> 24, minlength=size)


def _crop_state(cells: TreeSeasons, weight_kg: Floats, passes: Bools) -> Ints:
    thinnings, events = cells.records.thinnings, cells.records.events
    stripped = np.zeros(cells.size, dtype=bool)
    stripped[cells.of(thinnings[thinnings["action"] == "strip"])] = True
    barren = events[events["event"] == "no crop"]
    own = barren["tree"].notna()
    none = np.zeros(cells.size, dtype=bool)
    none[cells.of(barren[own])] = True
    none |= _at_whole_sites(cells, barren[~own])
    state = np.where(none | passes, NONE, NOT_RECORDED)
    return np.where(weight_kg > 0, PICKED, np.where(stripped, STRIPPED, state))


def _at_whole_sites(cells: TreeSeasons, events: pd.DataFrame) -> Bools:
    """Cells of the trees that stood at a site in a season with an event of the whole site."""
    site, places = pd.factorize(cells.records.trees["site"])
    where = pd.Index(places).get_indexer(pd.Index(events["site"]))
    struck = np.zeros((len(places) + 1, cells.width), dtype=bool)
    struck[where, events["season"].to_numpy(dtype=np.int64) - cells.low] = True
    return struck[site].ravel() & cells.stood()


def _finished(cells: TreeSeasons, last_pick: Dates) -> Bools:
    """Cells in which a pass was marked the last, or none has followed for 45 days."""
    picks = cells.records.picks
    finished = np.zeros(cells.size, dtype=bool)
    finished[cells.of(picks[picks["last"].eq(True).fillna(False)])] = True
    since = (np.datetime64(cells.records.as_of, "D") - last_pick) / ONE_DAY
    quiet: Bools = since > QUIET_DAYS
    return finished | quiet


def _compare(columns: dict[str, NDArray[Any]], tree: Ints, girths: pd.DataFrame) -> None:
    """Add trunk cross-section, yield by cross-section and the comparison with the own mean."""
    trunk = girths_on(girths, columns["tree"], columns["last_pick"])
    compared = (columns["crop"] == PICKED) & columns["complete"]
    area = trunk_cross_section(trunk.girth_cm)
    columns["tcsa_cm2"] = area
    columns["girth_date"] = trunk.measured
    columns["kg_per_cm2"] = np.where(compared, columns["weight_kg"] / area, np.nan)
    columns["against_own_mean"] = against_own_mean(columns["weight_kg"], tree, compared)


def against_own_mean(weight_kg: ArrayLike, tree: ArrayLike, compared: ArrayLike) -> Floats:
    """Share by which each weight lies above or below the mean of its tree's other weights.

    Parameters
    ----------
    weight_kg : weights [kg], shape (n,).
    tree : number of the tree of each, 0 or more, shape (n,).
    compared : which weights count, shape (n,); the others neither get nor give a comparison.

    Returns
    -------
    weight / mean of the others - 1 [1], nan where a tree has fewer than two others.
    """
    counts = np.asarray(compared, dtype=bool)
    weight = np.where(counts, np.asarray(weight_kg, dtype=float), 0.0)
    owner = np.asarray(tree, dtype=np.int64)
    others = np.bincount(owner, counts)[owner] - 1
    rest = np.bincount(owner, weight)[owner] - weight
    enough = counts & (others >= LEAST_OTHERS) & (rest > 0)
    share = np.full(weight.shape, np.nan)
    share[enough] = weight[enough] * others[enough] / rest[enough] - 1
    return share


@contextmanager
def collector_resting() -> Iterator[None]:
    """No garbage collection while many small objects are made that all stay alive."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _plain(name: str, values: NDArray[Any]) -> list[Any]:
    """A column as plain Python values, None where missing; counts as whole numbers."""
    if values.dtype.kind == "M":
        return list(values.astype("datetime64[D]").tolist())
    if values.dtype.kind != "f":
        return list(values.tolist())
    whole = name in ("fruit_count", "fruit_counted")
    missing = np.isnan(values)
    plain = (np.where(missing, 0, values).astype(np.int64) if whole else values).astype(object)
    plain[missing] = None
    return list(plain.tolist())
