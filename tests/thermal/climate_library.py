"""xclim as an independent, general-purpose reference: slow to import, so only inside a test."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType

import numpy as np
import numpy.typing as npt

THEIR_WARNINGS = (
    r"Import\(s\) unavailable to set up matplotlib support",
    "The 'name' property is deprecated",
    "In a future version of xarray the default value for (compat|join)",
)


@contextmanager
def climate_indices() -> Iterator[ModuleType]:
    """Lend `xclim.indices`, with the warnings that are its own business silenced."""
    with warnings.catch_warnings():
        for message in THEIR_WARNINGS:
            warnings.filterwarnings("ignore", message=message)
        import xclim.indices

        yield xclim.indices


def labelled(values: npt.NDArray[np.floating], start: str, freq: str, unit: str = "degC"):
    """Return a time series as the library wants it: named axes, dates and a unit."""
    import pandas as pd
    import xarray as xr

    time = pd.date_range(start, periods=values.shape[-1], freq=freq)
    dims = [*(f"axis{i}" for i in range(values.ndim - 1)), "time"]
    return xr.DataArray(values, dims=dims, coords={"time": time}, attrs={"units": unit})
