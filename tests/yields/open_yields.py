"""The open yield tables of tests/data/yields (agridat, MIT licence; see the README there)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from harvest.units import KG_PER_LB

FOLDER = Path(__file__).parents[1] / "data" / "yields"


def coffee() -> np.ndarray:
    """Coffee plots (Páez 1962): plots by five years; the unit is not stated."""
    table = pd.read_csv(FOLDER / "paez.coffee.uniformity.txt", sep="\t")
    return table.pivot_table(index="plot", columns="year", values="yield").to_numpy()


def grapes() -> pd.DataFrame:
    """Grapevines on fifteen rootstocks: plots (cultivar, rootstock, block) by 1995 to 1999.

    From the repository of "Grapevine rootstocks affect growth-related scion phenotypes" (MIT).
    """
    table = pd.read_csv(FOLDER / "grape_rootstock_plots.csv")
    key = ["Variety", "Rootstock", "Block"]
    return table.pivot_table(index=key, columns="year", values="Yield_Avg")


def oranges() -> np.ndarray:
    """Navel oranges planted in 1917 (Parker and Batchelor 1932): trees by 1921 to 1927 [kg]."""
    table = pd.read_csv(FOLDER / "parker.orange.uniformity.txt", sep="\t")
    wide = table.pivot_table(index=["row", "col"], columns="year", values="yield")
    return wide.to_numpy() * KG_PER_LB


def apple_trial() -> pd.DataFrame:
    """Apples on four rootstocks (Archbold et al. 1987): kg per tree over 1975 to 1979."""
    return pd.read_csv(FOLDER / "archbold.apple.txt", sep="\t").dropna(subset="yield")
