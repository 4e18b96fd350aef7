"""Open records forecast strictly forward, beside plain baselines with their own spread."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
from scipy import stats

from harvest.phenology.result import QUANTILES, EventForecast
from harvest.phenology.scores import inside, pinball
from harvest.records import Records
from tests import cherry
from tests.phenology.made_records import forecast_at, made_records
from tests.weather import open_records

BLOOM_FOLDER = Path(__file__).parents[1] / "data" / "bloom"
BLOOM_SITES = {"washington_dc": (38.9, -77.0), "basel": (47.54, 7.58)}
BLOOM_FILES = {
    "washington_dc": "washington_dc_cherry_bloom.csv",
    "basel": "basel_binningen_cherry_bloom.csv",
}
# Least standard deviation a baseline is given [d]: dates are whole days.
LEAST_SD = 0.5


def cherry_frames(sites: Iterable[str] = cherry.SITES) -> dict[str, pd.DataFrame]:
    """The sweet-cherry records as an orchard's tables."""
    chosen = list(sites)
    seen = cherry.observations()
    seen = seen[seen["site"].isin(chosen)]
    weather = [
        pd.read_csv(cherry.FOLDER / f"{site}_daily.csv").assign(site=site) for site in chosen
    ]
    stages = [
        seen[["tree", event]].set_axis(["tree", "date"], axis=1).assign(bbch=code)
        for event, code in (("bloom", 65), ("ripe", 87))
    ]
    places = [
        {"site": s, "latitude": cherry.SITES[s][0], "longitude": cherry.SITES[s][1]} for s in chosen
    ]
    trees = seen.drop_duplicates("tree")[["tree", "site", "cultivar"]]
    return {
        "sites": pd.DataFrame(places),
        "trees": trees.assign(species="sweet cherry", planted="1995-01-15"),
        "weather": pd.concat(weather).rename(columns={"tmin": "tmin_c", "tmax": "tmax_c"}),
        "stages": pd.concat(stages),
    }


@cache
def bloom_years(site: str) -> pd.DataFrame:
    """Columns year, doy of full bloom."""
    return pd.read_csv(BLOOM_FOLDER / BLOOM_FILES[site])


@cache
def bloom_records(site: str) -> Records:
    """One tree with decades of full bloom and weather."""
    years = bloom_years(site)
    days = [date(y, 1, 1) + timedelta(days=int(d) - 1) for y, d in years.itertuples(index=False)]
    latitude, longitude = BLOOM_SITES[site]
    place = {"site": site, "latitude": latitude, "longitude": longitude}
    tree = {"tree": "cherry", "site": site, "species": "sweet cherry"}
    weather = open_records.record(site).assign(site=site)
    return made_records(
        date(2027, 1, 1),
        {
            "sites": pd.DataFrame([place]),
            "trees": pd.DataFrame([{**tree, "cultivar": "of the record", "planted": "1940-01-01"}]),
            "weather": weather[weather["tmin_c"] <= weather["tmax_c"]],
            "stages": pd.DataFrame({"tree": "cherry", "date": days, "bbch": 65}),
        },
    )


def mean_quantiles(past: np.ndarray) -> np.ndarray:
    """Predictive quantiles of the mean of earlier values [d] (normal data, unknown spread)."""
    n = len(past)
    spread = max(past.std(ddof=1), LEAST_SD) * np.sqrt(1 + 1 / n)
    return np.asarray(past.mean() + spread * stats.t.ppf(QUANTILES, n - 1))


def trend_quantiles(years: np.ndarray, past: np.ndarray, year: int) -> np.ndarray:
    """Predictive quantiles [d] of a straight line through earlier values."""
    design = np.column_stack([np.ones(len(years)), years - year])
    effects = np.linalg.lstsq(design, past, rcond=None)[0]
    freedom = len(past) - 2
    variance = ((past - design @ effects) ** 2).sum() / freedom
    variance *= 1 + np.linalg.inv(design.T @ design)[0, 0]
    return np.asarray(effects[0] + np.sqrt(variance) * stats.t.ppf(QUANTILES, freedom))


def _told(event: EventForecast) -> np.ndarray:
    new_year = date(event.season, 1, 1)
    return np.array([(day - new_year).days + 1.0 for day in event.quantiles.values()])


def _scored(told: np.ndarray, came: float, plain: dict[str, np.ndarray]) -> dict[str, float]:
    return {
        "error": abs(came - told[3]),
        "pinball": float(pinball(QUANTILES, told, came)),
        "in_80": float(inside(told[1], told[5], came)),
        "in_50": float(inside(told[2], told[4], came)),
        **{name: float(pinball(QUANTILES, q, came)) for name, q in plain.items()},
    }


def cherry_scores(leads: Iterable[str], years: Iterable[int], least: int) -> pd.DataFrame:
    """One row per lead, tree and year that has bloomed and is not ripe on the day."""
    records = made_records(date(2016, 1, 1), cherry_frames())
    by_tree = dict(tuple(cherry.observations().groupby("tree")))
    out = []
    for lead in leads:
        for year in years:
            as_of = date.fromisoformat(f"{year}-{lead}")
            for event in forecast_at(records, as_of):
                seen = by_tree[event.tree]
                now, past = seen[seen["year"] == year], seen[seen["year"] < year]
                wanted = event.event == "ripe" and event.status == "forecast"
                if not wanted or now.empty or len(past) < least:
                    continue
                if now["bloom"].iloc[0].date() > as_of:
                    continue
                interval = (past["ripe_day"] - past["bloom_day"]).to_numpy()
                plain = {
                    "mean day": mean_quantiles(past["ripe_day"].to_numpy()),
                    "bloom + interval": now["bloom_day"].iloc[0] + mean_quantiles(interval),
                }
                scores = _scored(_told(event), float(now["ripe_day"].iloc[0]), plain)
                out.append({"site": event.site, "lead": lead, **scores})
    return pd.DataFrame(out)


def bloom_scores(site: str, leads: Iterable[str], least: int) -> pd.DataFrame:
    """One row per lead and year that has not bloomed by the day."""
    records, seen = bloom_records(site), bloom_years(site)
    out = []
    for lead in leads:
        for year, came in seen.itertuples(index=False):
            as_of = date.fromisoformat(f"{year}-{lead}")
            past = seen[seen["year"] < year]
            if len(past) < least or came <= as_of.timetuple().tm_yday:
                continue
            days = past["doy"].to_numpy(dtype=float)
            plain = {
                "30-year mean": mean_quantiles(days[-30:]),
                "trend": trend_quantiles(past["year"].to_numpy(), days, year),
            }
            event = next(e for e in forecast_at(records, as_of) if e.event == "full bloom")
            scores = _scored(_told(event), float(came), plain)
            out.append({"site": site, "lead": lead, **scores})
    return pd.DataFrame(out)


def relative(scores: pd.DataFrame, by: list[str], plain: list[str]) -> pd.DataFrame:
    """Mean scores of each group, and `ratio`, the pinball over that of the better baseline."""
    grouped = scores.groupby(by)
    table = grouped.mean(numeric_only=True)
    table.insert(0, "n", grouped.size())
    table["ratio"] = table["pinball"] / table[plain].min(axis=1)
    return table
