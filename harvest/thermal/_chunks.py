"""Work on large arrays in pieces that fit the processor's cache, on several cores where it pays."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Protocol, TypeVar

import numpy as np

from harvest.thermal._checks import CHUNK, FloatArray

Kernel = Callable[[list[FloatArray], FloatArray, FloatArray], None]
Piece = TypeVar("Piece")


class Spread(Protocol):
    """Do a task for each piece; the order in which they are done is open."""

    def __call__(self, task: Callable[[Piece], object], pieces: Sequence[Piece]) -> None: ...


def in_chunks(kernel: Kernel, inputs: list[FloatArray], out: FloatArray, scratch: int = 0) -> None:
    """Run `kernel(inputs, out, scratch)` over broadcast arrays, one-dimensional piece by piece.

    The kernel must work element by element and finds each array in its own type; `scratch` is
    the number of spare rows it is given.
    """
    spare = np.empty((scratch, CHUNK), dtype=out.dtype)
    access = [["readonly"]] * len(inputs) + [["writeonly"]]
    with np.nditer(
        [*inputs, out],
        flags=["external_loop", "buffered", "zerosize_ok"],
        op_flags=access,  # type: ignore[arg-type]  # the stub knows no list for each operand
        buffersize=CHUNK,
    ) as chunks:
        for *pieces, piece_out in chunks:
            kernel(pieces, piece_out, spare[:, : piece_out.size])


def cores() -> int:
    """Return how many cores this process may use, at most four."""
    usable = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return max(1, min(4, usable or 1))


@contextmanager
def spread_over_cores(worthwhile: bool) -> Iterator[Spread]:
    """Lend a function that spreads pieces of work over threads, or does them one by one.

    numpy and compiled code let go of the interpreter while they work on an array.
    """
    if not worthwhile or cores() == 1:

        def in_turn(task: Callable[[Piece], object], pieces: Sequence[Piece]) -> None:
            for piece in pieces:
                task(piece)

        yield in_turn
        return
    with ThreadPoolExecutor(cores() - 1) as pool:

        def at_once(task: Callable[[Piece], object], pieces: Sequence[Piece]) -> None:
            waiting = iter(pieces)  # shared: whoever is free takes the next piece

            def work() -> None:
                for piece in waiting:
                    task(piece)

            helpers = [pool.submit(work) for _ in range(min(cores(), len(pieces)) - 1)]
            work()
            for helper in helpers:
                helper.result()

        yield at_once


def equal_parts(count: int, parts: int) -> list[slice]:
    """Return slices that cut 0..count into at most `parts` pieces of nearly equal length."""
    step = max(1, -(-count // parts))
    return [slice(start, min(start + step, count)) for start in range(0, count, step)]
