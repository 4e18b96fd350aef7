"""The season after the running one: when it usually blooms and ripens, before anything is seen."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pandas as pd

from harvest.care.outlook import UNKNOWN, DateOutlook, TreeSeason, around
from harvest.records import Records
from harvest.seasons import calendar_season, date_of, days_of_season, leaf
from harvest.tree_years import full_blooms

# Past blooms of a cultivar at a site from which its own mean is taken.
LEAST_SEASONS = 3
# Years differ by about this much: Schwartz et al. 1997 (natural 90 % limits of 12 to 13 days,
# divided by 1.645); no mean of few years is trusted to less than a part of it [d].
SEASON_SD, LEAST_SD = 7.6, 4.0


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
    out = []
    for tree in trees.to_dict("records"):
        latitude = float(tree["latitude"])
        season = calendar_season(records.as_of, latitude) + 1
        own = traits.loc[tree["tree"]]
        key = (tree["site"], tree["species"], tree["cultivar"])
        mean, sd = blooms.get(key, (float(own["usual_bloom"]), float(own["usual_bloom_sd"])))
        bloom = around(date_of(mean, season, latitude), sd)
        ripe = _later(bloom, float(own["prior_days"]), np.hypot(sd, float(own["prior_sd_days"])))
        window = (float(own["window_days_low"]) + float(own["window_days_high"])) / 2
        out.append(
            TreeSeason(
                tree=str(tree["tree"]),
                site=str(tree["site"]),
                species=str(tree["species"]),
                cultivar=str(tree["cultivar"]),
                season=season,
                latitude=latitude,
                leaf=leaf(tree["planted"].date(), season, latitude),
                bloom=bloom,
                ripe=ripe,
                last_pick=_later(ripe, window, np.hypot(sd, float(own["prior_sd_days"]))),
            )
        )
    return out


def _later(what: DateOutlook, days: float, sd: float) -> DateOutlook:
    middle = what.middle
    if middle is None or np.isnan(days) or np.isnan(sd):
        return UNKNOWN
    return around(middle + timedelta(days=round(days)), float(sd))


def _past_blooms(records: Records) -> dict[tuple[str, str, str], tuple[float, float]]:
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
