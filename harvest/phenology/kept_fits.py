"""Fits kept by a fingerprint of their inputs, so that a new record refits only what it touches.

A fit depends on its cells, their dates and the model's parameters, and on nothing else; two calls
with the same of them share one fit.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from threading import Lock

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvest.phenology.pooled import PooledDates, Prediction

Floats = NDArray[np.float64]

KEPT = 256


class KeptFits:
    """Fitted models by fingerprint, the least used forgotten first. Several threads may share it.

    `fitted` counts the fits made, `reused` those that were at hand.
    """

    def __init__(self, kept: int = KEPT) -> None:
        self._kept = kept
        self._fits: OrderedDict[bytes, PooledDates] = OrderedDict()
        self._lock = Lock()
        self.fitted = self.reused = 0

    def fit(self, model: PooledDates, cells: pd.DataFrame, days: Floats) -> PooledDates:
        """A model like `model`, fitted to cells and their days [d]."""
        key = fingerprint(model, cells, days)
        with self._lock:
            found = self._fits.get(key)
            if found is not None:
                self._fits.move_to_end(key)
                self.reused += 1
                return found
        made = PooledDates(model.priors, model.clocks).fit(cells, days)
        with self._lock:
            self.fitted += 1
            self._fits[key] = made
            while len(self._fits) > self._kept:
                self._fits.popitem(last=False)
        return made


def fingerprint(model: PooledDates, cells: pd.DataFrame, days: Floats) -> bytes:
    """Digest of everything a fit depends on."""
    told = model.priors, model.clocks, list(cells.columns)
    digest = hashlib.blake2b(repr(told).encode())
    digest.update(cells.to_numpy(dtype=np.float64).tobytes())
    digest.update(np.ascontiguousarray(days).tobytes())
    return digest.digest()


FITS = KeptFits()


def fit_and_predict(model: PooledDates, cells: pd.DataFrame, days: Floats) -> Prediction:
    """Fit the cells whose days [d] are known and predict the others, in their order."""
    known = ~np.isnan(days)
    fitted = FITS.fit(model, cells[known], days[known])
    return fitted.predict_dates(cells[~known])
