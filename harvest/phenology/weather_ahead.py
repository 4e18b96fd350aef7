"""How far the weather ahead can move a date: the spread of past years over the coming weeks.

After the stored forecast days the usual year follows, the mean of all years on record. Two other
ways to weigh the years were scored strictly forward on the open records, as in
tests/phenology/test_open_records.py: recent decades more, a year half for every fifteen it lies
back, and the record's warming (median slope) added back to earlier years. Ripe dates of sweet
cherry came out alike with all three, pinball 0.80 and 0.88 of the better baseline at the two
places; a usual year that leans on recent years was no better for bloom either (see
`harvest.phenology.blooming`). So all years count alike.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from harvest.phenology.clocks import Clock

Floats = NDArray[np.float64]

YEAR_DAYS = 365.25
AHEAD_DAYS = 150
LEAST_YEARS = 5
# Variance of a date whose weather is all known [d2]: about the noise of one record.
KNOWN_VARIANCE = 9.0


def ahead_variance(clock: Clock, known_to: int) -> Floats:
    """Variance [d2] that the weather adds to a date so many days ahead, shape (AHEAD_DAYS + 1,).

    Each past year's weather from the same day of the year on is a possible future; its progress
    after so many days is compared with the mean of them all and divided by the progress of a day.
    Zero everywhere with fewer than five such years on record.
    """
    end = known_to - clock.origin + 1
    years = np.arange(1, int(end / YEAR_DAYS) + 1)
    begins = end - np.round(years * YEAR_DAYS).astype(np.int64)
    begins = begins[(begins >= 0) & (begins + AHEAD_DAYS < len(clock.past))]
    if len(begins) < LEAST_YEARS:
        return np.zeros(AHEAD_DAYS + 1)
    steps = np.arange(AHEAD_DAYS + 1)
    progress = clock.past[begins[:, None] + steps] - clock.past[begins][:, None]
    usual = progress.mean(axis=0)
    rate = np.maximum(np.gradient(usual), 1e-6)
    return np.asarray(((progress - usual) / rate).var(axis=0, ddof=1))


def relative_spread(days_ahead: Floats, variance: Floats) -> Floats:
    """Spread of each cell relative to their root mean square [1], by how far ahead it lies [d]."""
    if days_ahead.size == 0:
        return days_ahead
    at = np.clip(np.round(days_ahead), 0, AHEAD_DAYS).astype(np.int64)
    total = KNOWN_VARIANCE + np.minimum(variance[at], 9 * KNOWN_VARIANCE)
    return np.asarray(np.sqrt(total / total.mean()))
