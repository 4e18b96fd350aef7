"""Crop estimates made strictly forward on open trials, and the guesses they are held against."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd

from harvest.records import Records
from harvest.store.reference import (
    bearing_curve_table,
    cultivar_table,
    frost_kill_table,
    pollination_table,
    species_table,
)
from harvest.yields.crop_estimate import crop_estimates
from harvest.yields.load_rules import YieldReference
from tests.yields.made_records import orchard, tree
from tests.yields.open_yields import coffee, grapes, oranges

FIRST_SEASON = 2011
GUESSES = ("last season's crop", "the crop two seasons ago", "the tree's own mean")


@dataclass(frozen=True)
class Trial:
    """Yields of plots by seasons, and the trees they are entered as."""

    name: str
    kg: np.ndarray
    trees: list[dict[str, object]]

    def records(self, before: int) -> Records:
        """What a grower would have on record before a column's season."""
        picks = [
            {
                "tree": row["tree"],
                "date": f"{FIRST_SEASON + at}-09-20",
                "weight_kg": float(self.kg[plot, at]),
                "last": True,
            }
            for plot, row in enumerate(self.trees)
            for at in range(before)
            if not np.isnan(self.kg[plot, at])
        ]
        return orchard(f"{FIRST_SEASON + before}-01-15", self.trees, picks=picks)


@cache
def coffee_trial() -> Trial:
    kg = coffee()
    # Coffee has no row in the reference tables: nothing but the plots themselves speaks.
    trees = [tree(f"P{at}", species="coffee", cultivar="coffee", vigour=None,
                  planted="1995-03-01") for at in range(len(kg))]  # fmt: skip
    return Trial("coffee", kg, trees)


@cache
def grape_trial() -> Trial:
    table = grapes()
    trees = [
        tree(f"P{at}", species="table grape", cultivar=variety, rootstock=rootstock, vigour=None,
             planted="1995-03-01")
        for at, (variety, rootstock, _) in enumerate(table.index)
    ]  # fmt: skip
    return Trial("grapes", table.to_numpy(), trees)


@cache
def orange_trial() -> Trial:
    kg = oranges()
    # Planted in 1917 and first weighed in 1921, the fifth leaf; here that season is 2011.
    trees = [tree(f"P{at}", species="orange", cultivar="Washington Navel", vigour=None,
                  planted="2007-03-01") for at in range(len(kg))]  # fmt: skip
    return Trial("oranges", kg, trees)


@cache
def orange_trial_entered_grown() -> Trial:
    """The same oranges as if nobody knew when they had been planted."""
    known = orange_trial()
    trees = [{**row, "planted": "1970-03-01"} for row in known.trees]
    return Trial("oranges entered as grown", known.kg, trees)


def reference() -> YieldReference:
    return YieldReference(
        species=species_table(),
        cultivars=cultivar_table(),
        bearing_curves=bearing_curve_table(),
        frost_kill=frost_kill_table(),
        pollination=pollination_table(),
    )


@cache
def scored(make: str) -> pd.DataFrame:
    """Each plot's season from the third on: weight, quantiles, and the three guesses [kg]."""
    trial: Trial = {
        "coffee": coffee_trial,
        "grapes": grape_trial,
        "oranges": orange_trial,
        "oranges entered as grown": orange_trial_entered_grown,
    }[make]()
    seasons = []
    for at in range(2, trial.kg.shape[1]):
        rows = crop_estimates(trial.records(at), FIRST_SEASON + at, reference())
        quantiles = pd.DataFrame([row.kg for row in rows])
        assert [row.tree for row in rows] == [row["tree"] for row in trial.trees]
        past = trial.kg[:, :at]
        guesses = (past[:, -1], past[:, -2], np.nanmean(past, axis=1))
        known = pd.DataFrame(dict(zip(GUESSES, guesses, strict=True)))
        seasons.append(quantiles.join(known).assign(season=at + 1, kg=trial.kg[:, at]))
    return pd.concat(seasons, ignore_index=True).dropna(subset="kg")


def errors(make: str) -> pd.Series:
    """Mean absolute error [kg], mean over the seasons, of the estimate's middle and the guesses."""
    table = scored(make)
    named = table[[0.5, *GUESSES]].rename(columns={0.5: "estimate"})
    apart = named.sub(table["kg"], axis=0).abs()
    return apart.groupby(table["season"]).mean().mean()
