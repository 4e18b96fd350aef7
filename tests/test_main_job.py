"""The main job end to end: a user's files in, forecasts out, against the open cherry records."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pandas as pd

from tests.cherry import baselines, observations, write_files

FIRST_YEAR = 2006
LEAST_SEASONS = 3


def harvest(orchard: Path, *arguments: str) -> str:
    """Run the installed command line as a user does; its standard output."""
    command = [str(Path(sys.executable).with_name("harvest")), "--orchard", str(orchard)]
    done = subprocess.run([*command, *arguments], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_forecast_of_10_may_beats_the_plain_baselines_on_open_cherry_records(
    tmp_path: Path,
) -> None:
    """Wenden et al. 2016: fifteen seasons at two sites, each season from 2006 on forecast from
    earlier seasons only.

    Threshold: the mean absolute error of the median below that of both baselines on the two sites
    together, over every tree that is not yet ripe on 10 May and has at least three earlier
    seasons (with fewer the baselines' means say little). No margin is asked for here: beating
    them at all is the least that weather must add to be worth its trouble.
    """
    write_files(tmp_path)
    orchard = tmp_path / "orchard.sqlite"
    harvest(orchard, "init")
    for kind in ("sites", "trees", "weather", "stages"):
        harvest(orchard, "import", kind, str(tmp_path / f"{kind}.csv"))
    seen = observations()
    told = []
    for year in range(FIRST_YEAR, int(seen["year"].max()) + 1):
        rows = json.loads(
            harvest(orchard, "forecast", "--as-of", f"{year}-05-10", "--format", "json")
        )
        told += [
            {"tree": r["tree"], "year": year, "median": pd.Timestamp(r["quantiles"]["0.5"])}
            for r in rows
            if r["event"] == "ripe" and r["status"] == "forecast" and r["season"] == year
        ]
    table = baselines(seen, LEAST_SEASONS).merge(pd.DataFrame(told), on=["tree", "year"])
    table["forecast"] = table["median"].dt.day_of_year
    names = ["mean_day", "interval", "forecast"]
    errors = table[names].sub(table["ripe_day"], axis=0).abs()
    by_site = errors.groupby(table["site"]).mean()
    by_site.loc["together"] = errors.mean()
    by_site["n"] = [*table.groupby("site").size(), len(table)]
    print("\nMean absolute error of ripe dates as of 10 May [d]\n", by_site.round(2))
    together = by_site.loc["together"]
    assert together["n"] > 300
    assert together["forecast"] < together["mean_day"]
    assert together["forecast"] < together["interval"]
