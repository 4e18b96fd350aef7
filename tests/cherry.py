"""The open sweet-cherry records as an orchard's files, and the plain baselines to beat.

Wenden et al. 2016, Scientific Data 3:160108 (see tests/data/cherry/README.md). The cultivars are
renamed to names that no reference table knows, because the table of sweet-cherry offsets shipped
with the program was computed from these same records.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

FOLDER = Path(__file__).parent / "data" / "cherry"
SITES = {"balandran": (43.76, 4.46), "etoile": (44.82, 4.89)}


def observations() -> pd.DataFrame:
    """Columns site, tree, cultivar, year, bloom, ripe (dates), and bloom_day, ripe_day [d]."""
    parts = []
    for site in SITES:
        rows = pd.read_csv(FOLDER / f"{site}_bloom_maturity.csv").dropna()
        names = {name: f"{name} of the plot" for name in sorted(rows["cultivar"].unique())}
        new_year = pd.to_datetime(rows["year"].astype(str) + "-01-01")
        bloom_day = np.floor(rows["bloom_full_doy"])
        ripe_day = np.floor(rows["maturity_doy"])
        parts.append(
            pd.DataFrame(
                {
                    "site": site,
                    "tree": site + " " + rows["cultivar"],
                    "cultivar": rows["cultivar"].map(names),
                    "year": rows["year"],
                    "bloom": new_year + pd.to_timedelta(bloom_day - 1, unit="D"),
                    "ripe": new_year + pd.to_timedelta(ripe_day - 1, unit="D"),
                    "bloom_day": bloom_day,
                    "ripe_day": ripe_day,
                }
            )
        )
    return pd.concat(parts, ignore_index=True)


def write_files(folder: Path) -> None:
    """Write sites, trees, weather and stages as a user would bring them."""
    seen = observations()
    pd.DataFrame(
        [{"site": name, "latitude": lat, "longitude": lon} for name, (lat, lon) in SITES.items()]
    ).to_csv(folder / "sites.csv", index=False)
    trees = seen.drop_duplicates("tree")[["tree", "site", "cultivar"]]
    trees.assign(species="sweet cherry", planted="1995-01-15").to_csv(
        folder / "trees.csv", index=False
    )
    weather = pd.concat(
        pd.read_csv(FOLDER / f"{site}_daily.csv").assign(site=site) for site in SITES
    )
    weather = weather.rename(columns={"tmin": "tmin_c", "tmax": "tmax_c"})
    weather[["site", "date", "tmin_c", "tmax_c"]].to_csv(folder / "weather.csv", index=False)
    stages = pd.concat(
        [
            seen[["tree", "bloom"]].rename(columns={"bloom": "date"}).assign(bbch=65),
            seen[["tree", "ripe"]].rename(columns={"ripe": "date"}).assign(bbch=87),
        ]
    )
    stages["date"] = stages["date"].dt.strftime("%Y-%m-%d")
    stages.to_csv(folder / "stages.csv", index=False)


def baselines(seen: pd.DataFrame, least_seasons: int) -> pd.DataFrame:
    """Two plain forecasts of each tree and year from its earlier years, day of year [d].

    Columns: `mean_day`, the mean ripe day; `interval`, bloom plus the mean days from bloom to
    ripe; only where at least `least_seasons` earlier seasons are on record.
    """
    seen = seen.sort_values(["tree", "year"])
    grouped = seen.groupby("tree")
    days = seen["ripe_day"] - seen["bloom_day"]
    earlier = grouped.cumcount()
    mean_day = grouped["ripe_day"].transform(lambda s: s.expanding().mean().shift())
    mean_interval = days.groupby(seen["tree"]).transform(lambda s: s.expanding().mean().shift())
    out = seen.assign(mean_day=mean_day, interval=seen["bloom_day"] + mean_interval)
    return out[earlier >= least_seasons]
