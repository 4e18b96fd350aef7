"""The season after the running one: when it usually blooms and ripens, before anything is seen."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from datetime import timedelta

import numpy as np
import pandas as pd

from harvest.care.outlook import UNKNOWN, DateOutlook, TreeSeason, around
from harvest.records import Records
from harvest.seasons import calendar_season, date_of, days_of_season, leaf
from harvest.tree_years import full_blooms, with_columns_of

# Past blooms of a cultivar at a site from which its own mean is taken.
LEAST_SEASONS = 3
# Years differ by about this much: Schwartz et al. 1997 (natural 90 % limits of 12 to 13 days,
# divided by 1.645); no mean of few years is trusted to less than a part of it [d].
SEASON_SD, LEAST_SD = 7.6, 4.0
# What is read of each tree's kind.
USUAL = (
    "usual_bloom", "usual_bloom_sd", "prior_days", "prior_sd_days", "window_days_low",
    "window_days_high",
)  # fmt: skip
Kind = tuple[str, str, str]  # site, species, cultivar


def next_seasons(records: Records, traits: pd.DataFrame) -> list[TreeSeason]:
    """Usual dates of each standing tree in the season that follows the running one.

    Parameters
    ----------
    records : with seasons. traits : indexed by tree (see `harvest.phenology.forecast`).

    A cultivar with three past seasons of bloom at the site goes by their mean; any other by the
    reference tables' usual bloom there.
    """
    blooms = _past_blooms(records)
    trees = records.trees[records.trees["removed"].isna()]
    usual = with_columns_of(traits[list(USUAL)], trees[["tree"]])
    dates: dict[Kind, tuple[DateOutlook, DateOutlook, DateOutlook]] = {}
    out = []
    for tree, own in zip(trees.to_dict("records"), usual.to_dict("records"), strict=True):
        latitude = float(tree["latitude"])
        season = calendar_season(records.as_of, latitude) + 1
        kind = str(tree["site"]), str(tree["species"]), str(tree["cultivar"])
        if kind not in dates:
            dates[kind] = _dates(own, blooms.get(kind), season, latitude)
        bloom, ripe, last_pick = dates[kind]
        out.append(
            TreeSeason(
                str(tree["tree"]), *kind, season, latitude,
                leaf=leaf(tree["planted"].date(), season, latitude),
                bloom=bloom, ripe=ripe, last_pick=last_pick,
            )
        )  # fmt: skip
    return out


def _dates(
    own: Mapping[Hashable, float], past: tuple[float, float] | None, season: int, latitude: float
) -> tuple[DateOutlook, DateOutlook, DateOutlook]:
    """Full bloom, ripe and last pick of a kind of tree."""
    mean, sd = past or (own["usual_bloom"], own["usual_bloom_sd"])
    bloom = around(date_of(mean, season, latitude), sd)
    doubt = float(np.hypot(sd, own["prior_sd_days"]))
    ripe = _later(bloom, own["prior_days"], doubt)
    window = (own["window_days_low"] + own["window_days_high"]) / 2
    return bloom, ripe, _later(ripe, window, doubt)


def _later(what: DateOutlook, days: float, sd: float) -> DateOutlook:
    middle = what.middle
    if middle is None or np.isnan(days) or np.isnan(sd):
        return UNKNOWN
    return around(middle + timedelta(days=round(days)), sd)


def _past_blooms(records: Records) -> dict[Kind, tuple[float, float]]:
    """Mean day of season of full bloom and what a season departs from it [d], by cultivar."""
    blooms = full_blooms(records.stages)
    if blooms.empty:
        return {}
    blooms = blooms.merge(
        records.trees[["tree", "site", "species", "cultivar", "latitude"]], on="tree"
    )
    blooms["day"] = days_of_season(blooms["bloom"], blooms["season"], blooms["latitude"])
    key = ["site", "species", "cultivar"]
    yearly = blooms.groupby([*key, "season"])["day"].mean().groupby(level=key)
    found = pd.DataFrame({"mean": yearly.mean(), "sd": yearly.std(), "n": yearly.size()})
    found = found[found["n"] >= LEAST_SEASONS]
    sd = np.maximum(found["sd"].fillna(SEASON_SD), LEAST_SD) * np.sqrt(1 + 1 / found["n"])
    return {
        (str(site), str(species), str(cultivar)): (float(mean), float(spread))
        for (site, species, cultivar), mean, spread in zip(
            found.index, found["mean"], sd, strict=True
        )
    }
