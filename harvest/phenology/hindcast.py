"""Past seasons forecast again, each from only what was known then, beside what came."""

from __future__ import annotations

from datetime import date, timedelta

import pandas as pd

from harvest.phenology.forecast import forecast
from harvest.phenology.observed import observed_events
from harvest.phenology.result import PastForecast
from harvest.records import Records
from harvest.tree_years import with_seasons


def past_forecasts(records: Records, traits: pd.DataFrame, lead_days: int) -> list[PastForecast]:
    """Ripe dates as forecast `lead_days` [d] after the median full bloom of a site's species.

    Parameters
    ----------
    records : with seasons, up to the as-of date. traits : as for `forecast`.

    Returns
    -------
    One entry per tree and past season that had bloom logged by then, was not ripe yet, and has a
    ripe date on record; ordered by season, site, tree.
    """
    seen = observed_events(records).reset_index()
    seen = seen.merge(records.trees[["tree", "site", "species"]], on="tree")
    seen = seen[seen["bloom"].notna() & seen["ripe"].notna()]
    if seen.empty:
        return []
    median = seen.groupby(["site", "species", "season"])["bloom"].transform("median")
    seen = seen.assign(day=median.dt.floor("D").dt.date)
    ripe = seen.set_index(["tree", "season"])["ripe"]
    out: list[PastForecast] = []
    for (site, species, season, day), group in seen.groupby(["site", "species", "season", "day"]):
        as_of = day + timedelta(days=lead_days)
        if as_of > records.as_of:
            continue
        part = _part(records, str(site), str(species), as_of)
        for event in forecast(with_seasons(part, traits), traits):
            key = (event.tree, event.season)
            if event.event == "ripe" and event.status == "forecast" and event.season == season:
                if key in ripe.index and event.tree in set(group["tree"]):
                    out.append(
                        PastForecast(
                            tree=event.tree,
                            site=event.site,
                            species=event.species,
                            cultivar=event.cultivar,
                            season=event.season,
                            as_of=as_of,
                            quantiles=event.quantiles,
                            observed=ripe[key].date(),
                        )
                    )
    return sorted(out, key=lambda item: (item.season, item.site, item.tree))


def _part(records: Records, site: str, species: str, as_of: date) -> Records:
    """The records known then, of one species at one site."""
    import dataclasses

    known = records.until(as_of)
    trees = known.trees
    trees = trees[(trees["site"] == site) & (trees["species"] == species)].reset_index(drop=True)
    mine = set(trees["tree"])
    return dataclasses.replace(
        known,
        trees=trees,
        weather=known.weather[known.weather["site"] == site].reset_index(drop=True),
        stages=known.stages[known.stages["tree"].isin(mine)].reset_index(drop=True),
        picks=known.picks[known.picks["tree"].isin(mine)].reset_index(drop=True),
        thinnings=known.thinnings[known.thinnings["tree"].isin(mine)].reset_index(drop=True),
        events=known.events[known.events["tree"].isin(mine)].reset_index(drop=True),
    )
