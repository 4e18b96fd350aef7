"""Merging sources by trust, and sifting them first: laws that hold for any data."""

from __future__ import annotations

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from harvest.weather import rules
from harvest.weather.daily import COLUMNS
from harvest.weather.merge import MERGED, merge_sources
from harvest.weather.sift import sift_sources
from tests.weather.open_records import record

SOURCES = ("logger", "stations", "file")
VALUE = st.one_of(st.none(), st.integers(-20, 30))


@st.composite
def many_sources(draw: st.DrawFn) -> pd.DataFrame:
    """A few days of up to three sources, with holes."""
    rows = []
    for source in draw(st.lists(st.sampled_from(SOURCES), unique=True, min_size=1)):
        for day in draw(st.lists(st.integers(0, 6), unique=True, min_size=1)):
            low, rise, rain, wind = draw(VALUE), draw(st.integers(0, 9)), draw(VALUE), draw(VALUE)
            known = draw(st.booleans())
            rows.append(
                {
                    "date": pd.Timestamp("2020-03-01") + pd.Timedelta(days=day),
                    "source": source,
                    "tmin_c": low,
                    "tmax_c": None if low is None or not known else low + rise,
                    "precip_mm": None if rain is None else abs(rain),
                    "wind_kmh": None if wind is None else abs(wind),
                }
            )
    frame = pd.DataFrame(rows).astype(dict.fromkeys(COLUMNS, float))
    return frame.astype({"date": "datetime64[s]"})


def best(days: pd.DataFrame, trust: list[str]) -> dict[pd.Timestamp, tuple[object, ...]]:
    """The same by hand, day by day: the plain reading of the rule."""
    order = [*trust, *sorted(set(days["source"]) - set(trust))]
    out = {}
    for day, rows in days.groupby("date"):
        own = {row["source"]: row for row in rows.to_dict("records")}
        there = [own[name] for name in order if name in own]
        whole = [r for r in there if not np.isnan(r["tmin_c"]) and not np.isnan(r["tmax_c"])]
        half = [r for r in there if not np.isnan(r["tmin_c"]) or not np.isnan(r["tmax_c"])]
        warm = (whole or half or [None])[0]
        wet = next((r for r in there if not np.isnan(r["precip_mm"])), None)
        windy = next((r for r in there if not np.isnan(r["wind_kmh"])), None)
        if warm is None and wet is None and windy is None:
            continue
        out[day] = (
            np.nan if warm is None else warm["tmin_c"],
            np.nan if warm is None else warm["tmax_c"],
            np.nan if wet is None else wet["precip_mm"],
            np.nan if windy is None else windy["wind_kmh"],
            (warm or wet or windy)["source"],
        )
    return out


@given(many_sources(), st.permutations(SOURCES))
def test_merging_is_the_rule_read_plainly_and_keeps_no_row_twice(
    days: pd.DataFrame, trust: list[str]
) -> None:
    merged = merge_sources(days, trust)
    assert list(merged.columns) == MERGED
    assert merged["date"].is_monotonic_increasing
    assert merged["date"].is_unique
    expected = best(days, trust)
    assert set(merged["date"]) == set(expected)
    for row in merged.itertuples(index=False):
        np.testing.assert_equal(tuple(row)[1:], expected[row.date])


@given(many_sources(), st.permutations(SOURCES), st.randoms())
def test_order_of_rows_does_not_matter(
    days: pd.DataFrame, trust: list[str], random: object
) -> None:
    at = list(range(len(days)))
    random.shuffle(at)  # type: ignore[attr-defined]
    pd.testing.assert_frame_equal(merge_sources(days, trust), merge_sources(days.iloc[at], trust))


@given(many_sources())
def test_one_trusted_source_alone_comes_back_as_it_is(days: pd.DataFrame) -> None:
    one = days[days["source"] == days["source"].iloc[0]]
    merged = merge_sources(one, [])
    kept = one[one[list(COLUMNS)].notna().any(axis=1)].sort_values("date", ignore_index=True)
    pd.testing.assert_frame_equal(merged[MERGED[:4]], kept[MERGED[:4]], check_dtype=False)


def two_sources() -> pd.DataFrame:
    """Basel as it is, and a logger a degree colder, of five years."""
    days = record("basel", "2001-01-01", "2005-12-31")
    logger = days.assign(tmin_c=days["tmin_c"] - 1, tmax_c=days["tmax_c"] - 1, source="logger")
    both = pd.concat([days.assign(source="stations"), logger], ignore_index=True)
    return both.assign(confirmed=False)


def test_another_order_of_trust_gives_another_record_from_the_same_days() -> None:
    days = two_sources()
    by_logger = sift_sources(days, ["logger", "stations"]).merged
    by_station = sift_sources(days, ["stations", "logger"]).merged
    assert set(by_logger["source"]) == {"logger"}
    assert set(by_station["source"]) == {"stations"}
    assert np.allclose(by_station["tmax_c"] - by_logger["tmax_c"], 1)


def test_a_suspect_day_is_taken_from_the_next_source_and_stays_listed() -> None:
    days = two_sources()
    day = days["date"] == "2003-01-10"
    days.loc[day & (days["source"] == "logger"), "tmax_c"] = 31.0
    sifted = sift_sources(days, ["logger", "stations"])
    row = sifted.merged.set_index("date").loc["2003-01-10"]
    assert row["source"] == "stations"
    assert sifted.suspect[["source", "column", "value"]].to_numpy().tolist() == [
        ["logger", "tmax_c", 31.0]
    ]
    alone = sift_sources(days[days["source"] == "logger"], [])
    assert pd.Timestamp("2003-01-10") not in set(alone.merged["date"])
    assert len(alone.merged) == len(days) // 2 - 1


def test_a_day_suspect_in_one_temperature_loses_both_but_not_its_rain() -> None:
    days = two_sources().assign(precip_mm=2.5)
    days = days[days["source"] == "logger"]
    days.loc[days["date"] == "2003-01-10", "tmax_c"] = 31.0
    row = sift_sources(days, []).merged.set_index("date").loc["2003-01-10"]
    assert np.isnan(row["tmin_c"])
    assert np.isnan(row["tmax_c"])
    assert row["precip_mm"] == 2.5


def test_of_two_sources_the_less_trusted_is_said_to_be_shifted() -> None:
    days = two_sources()
    part = (days["source"] == "logger") & days["date"].between("2002-04-01", "2002-07-31")
    days.loc[part, "date"] += pd.Timedelta(days=1)
    days = days.drop_duplicates(["source", "date"])
    for order, found in ((["stations", "logger"], "logger"), (["logger", "stations"], "stations")):
        suspect = sift_sources(days, order).suspect
        assert set(suspect["source"]) == {found}
        assert set(suspect["rule"]) == {rules.SHIFTED}


def test_what_comes_after_cannot_change_what_is_judged_before() -> None:
    """Sifting sees only the days handed in: a record cut off is judged as it was then."""
    days = two_sources()
    cut = days[days["date"] < "2004-06-01"]
    spoilt = days.copy()
    later = spoilt["date"] >= "2004-06-01"
    spoilt.loc[later, ["tmin_c", "tmax_c"]] += 30
    again = spoilt[spoilt["date"] < "2004-06-01"]
    one, other = sift_sources(cut, []), sift_sources(again, [])
    pd.testing.assert_frame_equal(one.merged, other.merged)
    pd.testing.assert_frame_equal(one.suspect, other.suspect)
