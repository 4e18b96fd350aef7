"""What is known of each tree's kind, from the reference tables, before its own records."""

from __future__ import annotations

import pandas as pd

from harvest.records import Records
from harvest.store.priors import Elsewhere
from harvest.store.reference import bloom_prior, ripening_prior, species_table

# No fruit is ripe before half of its species' shortest time from bloom has passed, or of what its
# cultivar is known to take: a late orange hangs on for months beside the next year's flowers.
LEAST_SHARE = 0.5
FROM_SPECIES = (
    "heat_base_c",
    "heat_upper_c",
    "picking_window_days_low",
    "picking_window_days_high",
    "days_from_bloom_low",
)


def tree_traits(records: Records) -> pd.DataFrame:
    """One row per tree, indexed by tree: the columns named in `harvest.phenology.forecast`."""
    trees = records.trees.merge(records.sites[["site", "elevation_m"]], on="site", how="left")
    kinds = trees[["site", "species", "cultivar", "latitude", "elevation_m"]].drop_duplicates()
    species = species_table().set_index("species")
    others = _elsewhere(records)
    known = []
    for kind in kinds.to_dict("records"):
        height = 0.0 if pd.isna(kind["elevation_m"]) else float(kind["elevation_m"])
        bloom = bloom_prior(kind["species"], float(kind["latitude"]), height)
        elsewhere = others.get((kind["species"], kind["cultivar"].casefold()), [])
        ripening = ripening_prior(kind["species"], kind["cultivar"], elsewhere=elsewhere)
        own = species.loc[kind["species"]]
        shortest = float(own["days_from_bloom_low"])
        if ripening.level == "cultivar":
            shortest = max(shortest, ripening.mean_days)
        known.append(
            {
                "site": kind["site"],
                "species": kind["species"],
                "cultivar": kind["cultivar"],
                "usual_bloom": bloom.mean_day,
                "usual_bloom_sd": bloom.sd_days,
                "least_days": LEAST_SHARE * shortest,
                "heat_base_c": own["heat_base_c"],
                "heat_upper_c": own["heat_upper_c"],
                "prior_days": ripening.mean_days,
                "prior_sd_days": ripening.sd_days,
                "prior_level": ripening.level,
                "seasons_elsewhere": sum(other.seasons for other in elsewhere),
                "window_days_low": own["picking_window_days_low"],
                "window_days_high": own["picking_window_days_high"],
            }
        )
    columns = ["tree", "site", "species", "cultivar"]
    table = pd.DataFrame(known) if known else pd.DataFrame(columns=[*columns[1:], *COLUMNS])
    return trees[columns].merge(table, on=columns[1:]).set_index("tree")[list(COLUMNS)]


def _elsewhere(records: Records) -> dict[tuple[str, str], list[Elsewhere]]:
    """What other orchards passed on, by species and cultivar without case."""
    found: dict[tuple[str, str], list[Elsewhere]] = {}
    if records.experience is not None:
        for row in records.experience.to_dict("records"):
            sd = None if pd.isna(row["days_sd"]) else float(row["days_sd"])
            told = Elsewhere(float(row["days_mean"]), sd, int(row["seasons"]))
            found.setdefault((row["species"], row["cultivar"].casefold()), []).append(told)
    return found


COLUMNS = (
    "usual_bloom",
    "usual_bloom_sd",
    "least_days",
    "heat_base_c",
    "heat_upper_c",
    "prior_days",
    "prior_sd_days",
    "prior_level",
    "seasons_elsewhere",
    "window_days_low",
    "window_days_high",
)
