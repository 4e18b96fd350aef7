"""Large invented orchards, to measure the time that forecasts take."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd

FIRST, LAST = 2004, 2024
SPECIES = {"apple": 135, "peach": 105, "sweet cherry": 62, "european pear": 120, "apricot": 88}
CULTIVARS_EACH = 8


def large_orchard(trees: int, sites: int, seed: int = 1) -> dict[str, pd.DataFrame]:
    """Trees of five species on some sites, twenty seasons each, in bloom in the last one."""
    random = np.random.default_rng(seed)
    places = pd.DataFrame(
        [(f"Site {n}", 40.0 + n / 4, 5.0) for n in range(sites)],
        columns=["site", "latitude", "longitude"],
    )
    days = (date(LAST, 12, 31) - date(FIRST, 1, 1)).days + 1
    dates = np.array(date(FIRST, 1, 1), dtype="datetime64[D]") + np.arange(days)
    cycle = 11 - 9 * np.cos(2 * np.pi * (np.arange(days) - 20) / 365.25)
    weather = []
    for site in places["site"]:
        mean = cycle + np.convolve(random.normal(0, 2.5, days), np.ones(5) / 2.2, mode="same")
        cells = {"site": site, "date": dates, "tmin_c": mean - 5, "tmax_c": mean + 6}
        weather.append(pd.DataFrame(cells))
    rows, stages = [], []
    names = list(SPECIES)
    for n in range(trees):
        species = names[n % len(names)]
        cultivar = int(random.integers(CULTIVARS_EACH))
        site = places["site"].iloc[n % sites]
        rows.append((f"T{n}", site, species, f"Sort {cultivar}", "2001-11-20"))
        for year in range(FIRST + 1, LAST + 1):
            bloom = date(year, 4, 10) + timedelta(days=int(random.integers(-9, 10)))
            ripe = SPECIES[species] + 3 * cultivar + int(random.integers(-6, 7))
            stages.append((f"T{n}", bloom, 65))
            if year < LAST:
                stages.append((f"T{n}", bloom + timedelta(days=ripe), 87))
    return {
        "sites": places,
        "trees": pd.DataFrame(rows, columns=["tree", "site", "species", "cultivar", "planted"]),
        "weather": pd.concat(weather),
        "stages": pd.DataFrame(stages, columns=["tree", "date", "bbch"]),
    }
