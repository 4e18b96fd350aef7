"""How fast heat and chill are worked out, beside a general climate-index library in the same run.

By default the work is small: only the results are compared. The real sizes and the limits:

    HARVEST_BENCHMARKS=full pytest tests/benchmarks/test_thermal_speed.py -n 0 --benchmark-verbose

Rounds of both take turns, so that what else the machine does falls on both; ratios are of
medians. The full run needs about 5 GB of memory and two cores with nothing else to do: the chill
limits count on both.
"""

from __future__ import annotations

import os
import time
import tracemalloc
from collections.abc import Callable

import numpy as np
import pytest

from harvest.thermal import (
    _dynamic_model,
    chill_portions,
    chill_totals,
    degree_days,
    hourly_temperature,
)
from tests.thermal.climate_library import climate_indices, labelled

FULL = os.environ.get("HARVEST_BENCHMARKS") == "full"
ROUNDS, CHILL_ROUNDS = (5, 15) if FULL else (1, 1)  # chill is short: more rounds, steadier medians
DAILY_SITES, HOURLY_SITES, YEARS = (10_000, 1000, 40) if FULL else (20, 40, 4)
HOURS = 8760 if FULL else 480


def daily_weather(sites: int, days: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(1)
    season = (8 - 9 * np.cos(2 * np.pi * np.arange(days) / 365.25)).astype(np.float32)
    tmin = rng.standard_normal((sites, days), dtype=np.float32)
    tmin *= 4
    tmin += season - 5
    tmax = rng.random((sites, days), dtype=np.float32)
    tmax *= 16
    tmax += 2
    tmax += tmin
    return tmin, tmax


def hourly_weather(sites: int, hours: int) -> np.ndarray:
    rng = np.random.default_rng(2)
    hour = np.arange(hours)
    season = 10 - 9 * np.cos(2 * np.pi * hour / 8760) + 5 * np.sin(2 * np.pi * (hour - 9) / 24)
    return season + rng.normal(0, 3, (sites, 1)) + rng.normal(0, 1, (sites, hours))


def in_turn(
    benchmark, ours: Callable[[], object], theirs: Callable[[], object], rounds: int = ROUNDS
) -> float | None:
    """Time both, one after the other, and return our median time over theirs."""
    reference: list[float] = []

    def before_each_round() -> None:
        start = time.perf_counter()
        theirs()
        reference.append(time.perf_counter() - start)

    benchmark.pedantic(ours, setup=before_each_round, rounds=rounds, warmup_rounds=1)
    if benchmark.stats is None:  # timing is switched off, as in a parallel test run
        return None
    ratio = float(np.median(benchmark.stats.stats.data) / np.median(reference[1:]))
    benchmark.extra_info["reference_s"] = float(np.median(reference[1:]))
    benchmark.extra_info["ratio"] = ratio
    return ratio


def within_limit(ratio: float | None, limit: float) -> None:
    if FULL and ratio is not None:
        assert ratio <= limit


def test_degree_days_beside_a_mean_based_sum(benchmark):
    """Single sine from minima and maxima, in at most 1.3 (0.9 with numba) of the time that the
    library needs to sum its means; it is given the means for nothing. numba is not called for."""
    days = YEARS * 365
    tmin, tmax = daily_weather(DAILY_SITES, days)
    with climate_indices() as indices:
        mean = labelled((tmin + tmax) / 2, "1981-01-01", "D")
        ratio = in_turn(
            benchmark,
            lambda: degree_days(tmin, tmax, base=4.5),
            lambda: indices.growing_degree_days(mean, thresh="4.5 degC", freq="YS"),
        )
        theirs = indices.growing_degree_days(mean, thresh="4.5 degC", freq="YS").to_numpy()
    flat = degree_days(tmin[:3], tmax[:3], base=4.5, method="average")
    np.testing.assert_allclose(flat.sum(axis=-1), theirs[:3].sum(axis=-1), rtol=1e-4)
    within_limit(ratio, 0.9)


def test_degree_days_need_little_memory_beyond_their_input():
    tmin, tmax = daily_weather(DAILY_SITES, YEARS * 365)
    tracemalloc.start()
    degree_days(tmin, tmax, base=4.5, upper=30.0)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < tmin.nbytes + 4e6  # the result and a few chunks
    assert peak < 1e9


@pytest.mark.parametrize("every", [1, HOURS], ids=["every hour", "the year's sum"])
@pytest.mark.parametrize(("way", "limit"), [("numpy", 1 / 5), ("compiled", 1 / 25)])
def test_chill_portions_beside_the_same_model(benchmark, monkeypatch, way, limit, every):
    """The year's sum, and even every hour's running total, at least 5 times (25 with numba) as
    fast as the library gets the sum of the year."""
    hours = hourly_weather(HOURLY_SITES, HOURS)
    monkeypatch.setattr(_dynamic_model, "COMPILED_FROM", 0 if way == "compiled" else np.inf)
    with climate_indices() as indices:
        series = labelled(hours, "2001-01-01", "h")
        ratio = in_turn(
            benchmark,
            lambda: chill_portions(hours, every=every),
            lambda: indices.chill_portions(series, freq="YS"),
            CHILL_ROUNDS,
        )
        theirs = indices.chill_portions(series, freq="YS").to_numpy()[:, 0]
    ours = chill_portions(hours[:, 1:], kelvin_offset=273.15)[:, -1]
    np.testing.assert_allclose(ours, theirs, rtol=1e-6)
    within_limit(ratio, limit)


def test_forty_years_of_one_site(benchmark):
    """Hours from daily minima and maxima and all four chill totals: under a second."""
    days = YEARS * 365
    tmin, tmax = (values[0] for values in daily_weather(1, days))
    day_of_year = np.arange(days) % 365 + 1

    def season_after_season():
        return chill_totals(hourly_temperature(tmin, tmax, 47.0, day_of_year))

    totals = benchmark.pedantic(season_after_season, rounds=ROUNDS, warmup_rounds=1)
    assert totals.state.hours == days * 24
    assert np.isfinite(totals.state.chill_portions)
    if benchmark.stats is not None:
        assert np.median(benchmark.stats.stats.data) < 1.0


def test_a_new_day_costs_no_season(benchmark):
    """Another day for all sites, beside the season it comes after."""
    season = hourly_weather(HOURLY_SITES, HOURS)
    start = time.perf_counter()
    state = chill_totals(season).state
    whole = time.perf_counter() - start
    day = hourly_weather(HOURLY_SITES, 24)
    totals = benchmark.pedantic(
        lambda: chill_totals(day, after=state), rounds=ROUNDS, warmup_rounds=1
    )
    together = chill_totals(np.concatenate([season, day], axis=1))
    np.testing.assert_allclose(totals.chill_portions, together.chill_portions[:, -24:], rtol=1e-6)
    if FULL and benchmark.stats is not None:
        assert np.median(benchmark.stats.stats.data) < 0.05 * whole
