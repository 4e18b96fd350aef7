"""Past seasons forecast again, each from only what was known then, beside what came."""

from __future__ import annotations

from datetime import timedelta

import pandas as pd

from harvest.phenology.forecast import outlook, running_and_past
from harvest.phenology.observed import observed_events
from harvest.phenology.report import report
from harvest.phenology.result import EventForecast, PastForecast
from harvest.records import Records
from harvest.tree_years import with_seasons


def past_forecasts(records: Records, traits: pd.DataFrame, lead_days: int) -> list[PastForecast]:
    """Ripe dates as forecast `lead_days` [d] after the median full bloom of each site and season.

    Parameters
    ----------
    records : with seasons, up to the as-of date. traits : as for `forecast`.

    Returns
    -------
    One entry per tree and past season that was not ripe yet on that day and has a ripe date on
    record; ordered by season, site, tree.
    """
    seen = observed_events(records).reset_index()
    seen = seen.merge(records.trees[["tree", "site"]], on="tree")
    ripe = seen[seen["ripe"].notna()].set_index(["tree", "season"])["ripe"]
    blooms = seen[seen["bloom"].notna()].groupby(["site", "season"])["bloom"].median()
    out: list[PastForecast] = []
    for site, season, bloom in blooms.reset_index().itertuples(index=False):
        as_of = bloom.date() + timedelta(days=lead_days)
        if as_of > records.as_of:
            continue
        for event in _waiting(with_seasons(records.until(as_of), traits), traits, str(site)):
            came = ripe.get((event.tree, event.season))
            if event.event == "ripe" and event.season == season and came is not None:
                out.append(
                    PastForecast(
                        tree=event.tree,
                        site=event.site,
                        species=event.species,
                        cultivar=event.cultivar,
                        season=event.season,
                        as_of=as_of,
                        quantiles=event.quantiles,
                        observed=pd.Timestamp(came).date(),
                    )
                )
    return sorted(out, key=lambda item: (item.season, item.site, item.tree))


def _waiting(records: Records, traits: pd.DataFrame, site: str) -> list[EventForecast]:
    """Forecasts of the trees of a site that have bloomed and are not ripe yet."""
    rows, past = running_and_past(records, traits)
    wanted = rows["own_bloom"] & rows["ripe"].isna() & (rows["site"] == site) & (rows["back"] == 0)
    rows = rows[wanted].reset_index(drop=True)
    if rows.empty:
        return []
    found = report(records, outlook(records, rows, past))
    return [event for event in found if event.status == "forecast"]
