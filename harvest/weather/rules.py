"""The rules that a day of weather can break, by name, and how what they find is written down."""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvest.weather.daily import Bools, Daily, as_days

MIXED, IMPOSSIBLE, CROSSED = "units mixed up", "impossible value", "minimum above maximum"
CLIMATE, JUMP, RANGE = "outside the site's climate", "jump and back", "range of the day too wide"
STUCK, NOUGHT, REPEATED = "stuck sensor", "both nought", "month repeated"
DOUBLE, SHIFTED = "duplicate day", "shifted by a day"

RULES: dict[str, str] = {
    DOUBLE: "The same day stands there twice with different values.",
    MIXED: "At least three days near one another lie six spreads or more outside the site's "
    "climate as they are, and inside it when read as the other temperature unit or as tenths.",
    IMPOSSIBLE: "A temperature outside -90 to 60 degC, or rain below 0 or above 2000 mm a day.",
    CROSSED: "The lowest temperature of the day is above the highest.",
    NOUGHT: "Minimum and maximum are both exactly 0 degC, or both 0 degF: the mark of a missing "
    "reading.",
    RANGE: "The maximum is at least 40 degC above the warmest minimum of the day before, the day "
    "and the day after.",
    CLIMATE: "Six spreads or more from what is usual in that fortnight, or at least 10 degC "
    "beyond every other value of that calendar month.",
    JUMP: "Away from the day before and back the day after by 25 degC, or by six times the "
    "site's usual change from day to day (15 degC at least), or by three times when the value is "
    "also 3.7 spreads from the usual (a low minimum excepted: one night's frost does happen). At "
    "an end of the record or beside a missing day, away from its one neighbour by the first two "
    "(a low minimum excepted).",
    STUCK: "The same values day after day for longer than chance allows at this site: minimum and "
    "maximum for five days, one of them for eight, or minimum equal to maximum for three.",
    REPEATED: "A whole month holds the same values as another month of the record.",
    SHIFTED: "For a month the changes from day to day follow those of a more trusted source a day "
    "earlier or later much better than on the day itself.",
}

FOUND = ["date", "column", "value", "rule"]


def nothing_found() -> pd.DataFrame:
    """An empty list of suspect values."""
    return pd.DataFrame({name: pd.Series(dtype=object) for name in FOUND})


def found_rows(daily: Daily, column: str, marked: Bools, rule: str) -> pd.DataFrame:
    """What a rule marked in one column, as rows of `FOUND`."""
    return pd.DataFrame(
        {
            "date": daily.dates[marked].astype("datetime64[s]"),
            "column": column,
            "value": daily.columns[column][marked],
            "rule": rule,
        }
    )


def without_confirmed(parts: list[pd.DataFrame], days: pd.DataFrame) -> pd.DataFrame:
    """All that was found, by date, without the days that a person has confirmed."""
    if not parts:
        return nothing_found()
    found = pd.concat(parts)
    if "confirmed" in days:
        sure = as_days(days.loc[days["confirmed"].astype(bool), "date"].to_numpy())
        found = found[~np.isin(as_days(found["date"].to_numpy()), sure)]
    return found.sort_values(["date", "column"], kind="stable", ignore_index=True)
