"""Frost: the share of buds or flowers that a cold night kills at a stage of growth.

The published tables give two air temperatures for each stage: the one that kills 10 % of the
buds in 30 minutes and the one that kills 90 %. They are averages; hardening in a cold spring, a
dry or a wet night and the cultivar move them by a degree or more, and a thermometer in a shelter
reads higher than a bud under a clear sky. An estimate from them is a reason to cut buds open and
count, not a count. It says nothing about whether fruit is safe or a frost measure will work.

The table itself, by species and BBCH stage, is data/reference/frost_kill.csv; these functions
take its columns as arrays.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from harvest.errors import QuantityError
from harvest.thermal._checks import (
    FloatArray,
    as_float,
    broadcast_leading,
    first_index,
    located,
    temperatures,
)

FREEZING_C = 0.0


def stage_row(
    bbch: npt.ArrayLike, bbch_from: npt.ArrayLike, bbch_to: npt.ArrayLike
) -> npt.NDArray[np.intp]:
    """Return which row of a table of stages holds each growth stage.

    Parameters
    ----------
    bbch : growth stages 0..99 (BBCH code), any shape; nan where unknown.
    bbch_from, bbch_to : first and last code of each row, both included, shape (rows,).

    Returns
    -------
    The row's index, of the shape of `bbch`; -1 where no row holds the stage or it is unknown.

    Raises
    ------
    QuantityError
        Rows that overlap or end before they begin, columns of different length.
    """
    stage = as_float(bbch, "bbch")
    first, last = as_float(bbch_from, "bbch_from"), as_float(bbch_to, "bbch_to")
    if first.ndim != 1 or first.shape != last.shape:
        raise QuantityError(
            "bbch_from and bbch_to must be two columns of the same length",
            given=f"shapes {first.shape} and {last.shape}",
        )
    order = np.argsort(first)
    begins, ends = first[order], last[order]
    if (begins > ends).any() or (begins[1:] <= ends[:-1]).any():
        rows = ", ".join(f"{low:g}-{high:g}" for low, high in zip(begins, ends, strict=True))
        raise QuantityError("the stages of a table must not overlap", given=rows, where="bbch_from")
    if not first.size:
        return np.full(stage.shape, -1, dtype=np.intp)
    place = np.searchsorted(begins, stage, side="right") - 1  # nan sorts last
    held = (place >= 0) & (stage <= ends[place])
    return np.where(held, order[place], -1).astype(np.intp)


def kill_temperatures(
    bbch: npt.ArrayLike,
    bbch_from: npt.ArrayLike,
    bbch_to: npt.ArrayLike,
    kill10: npt.ArrayLike,
    kill90: npt.ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """Return the temperatures that kill 10 % and 90 % at each growth stage [degC].

    Parameters
    ----------
    bbch : growth stages 0..99 (BBCH code), any shape; nan where unknown.
    bbch_from, bbch_to, kill10, kill90 : columns of one species' table, shape (rows,).

    Returns
    -------
    Two arrays of the shape of `bbch`; nan where the table has no row or no value.

    Raises
    ------
    QuantityError
        As `stage_row`; temperatures out of range or columns of another length.
    """
    row = stage_row(bbch, bbch_from, bbch_to)
    columns = []
    for name, values in (("kill10", kill10), ("kill90", kill90)):
        column = temperatures(values, name)
        if column.shape != np.shape(bbch_from):
            raise QuantityError(
                f"{name} must have a value for each row of the table, nan where there is none",
                given=f"shape {column.shape} for {np.shape(bbch_from)} rows",
                where=name,
            )
        columns.append(np.append(column, np.nan)[row])  # row -1 picks the nan
    return columns[0], columns[1]


def share_killed(
    night_minimum: npt.ArrayLike, kill10: npt.ArrayLike, kill90: npt.ArrayLike
) -> FloatArray:
    """Return the share of buds or flowers that a night kills, 0..1.

        share = 0.1 + 0.8 (kill10 - T) / (kill10 - kill90),  held within 0..1;  0 from 0 degC up

    The straight line through the two published points is common practice without a source: treat
    values other than 0.1 and 0.9 as experimental. Nights do not add up: a second night at the
    same temperature and stage finds the tender buds dead already.

    Parameters
    ----------
    night_minimum : lowest air temperature of the night [degC]; nan where missing.
    kill10, kill90 : temperatures that kill 10 % and 90 % at the stage of that day [degC], see
        `kill_temperatures`; broadcast against `night_minimum`; nan where unknown.

    Returns
    -------
    The broadcast shape. nan where the night is missing, and, below 0 degC, where a kill
    temperature is unknown: unknown damage is not no damage.

    Raises
    ------
    QuantityError
        Temperatures out of range, shapes that do not fit, kill90 not below kill10.
    """
    night = temperatures(night_minimum, "night_minimum")
    tenth, most = temperatures(kill10, "kill10"), temperatures(kill90, "kill90")
    broadcast_leading(
        {"night_minimum": night.shape, "kill10": tenth.shape, "kill90": most.shape},
        "the shapes of night_minimum, kill10 and kill90",
    )
    wrong = np.asarray(most >= tenth)
    if wrong.any():
        at = first_index(wrong)
        higher, lower = (np.broadcast_to(each, wrong.shape)[at] for each in (most, tenth))
        raise QuantityError(
            "the temperature that kills 90 % must lie below the one that kills 10 %",
            given=f"kill10 {lower:g}, kill90 {higher:g} degC",
            where=located("kill90", at),
        )
    share = np.clip(0.1 + 0.8 * (tenth - night) / (tenth - most), 0.0, 1.0)
    return np.asarray(np.where(night >= FREEZING_C, 0.0, share))
