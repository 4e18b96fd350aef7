"""A site's record made whole: what fills its gaps, and what stands before a short record.

Basel 1991-2020 and Washington DC are the open records of tests/data/weather; the neighbours here
are made from them by a known shift, so that the truth is known.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from harvest.weather.gaps import DEFAULT_RULES
from harvest.weather.site_record import LEAST_OWN_YEARS, LENT, SiteRecords
from tests.weather.open_records import record

END = np.datetime64("2021-01-01")
COLUMNS = ["site", "latitude", "longitude", "elevation_m"]
SITES = pd.DataFrame(
    [("Home", 47.5, 7.6, 300.0), ("Hill", 47.6, 7.9, 800.0), ("Far", 43.0, 7.6, 300.0)],
    columns=COLUMNS,
)


def days(site: str, first: str, last: str = "2020-12-31", warmer: float = 0.0) -> pd.DataFrame:
    rows = record("basel", first, last).assign(site=site, precip_mm=np.nan)
    return rows.assign(tmin_c=rows["tmin_c"] + warmer, tmax_c=rows["tmax_c"] + warmer)


def without(rows: pd.DataFrame, first: str, last: str) -> pd.DataFrame:
    return rows[~rows["date"].between(pd.Timestamp(first), pd.Timestamp(last))]


def test_a_long_gap_is_filled_from_the_neighbour_before_the_climate_is_asked() -> None:
    """The hill is three degrees colder throughout, so that the truth comes back exactly."""
    own = without(days("Home", "2001-01-01"), "2020-05-01", "2020-05-20")
    places = SiteRecords(SITES, pd.concat([own, days("Hill", "2001-01-01", warmer=-3.0)]))
    whole = places.whole("Home", END, DEFAULT_RULES)
    assert whole is not None
    gap = slice(int((np.datetime64("2020-05-01") - whole.days.start).astype(int)), None)
    assert set(whole.rule[gap][:20]) == {"neighbours"}
    truth = days("Home", "2020-05-01", "2020-05-20")["tmax_c"].to_numpy()
    np.testing.assert_allclose(whole.days.columns["tmax_c"][gap][:20], truth, atol=1e-6)
    alone = SiteRecords(SITES, pd.concat([own, days("Far", "2001-01-01")]))
    whole = alone.whole("Home", END, DEFAULT_RULES)
    assert whole is not None
    assert set(whole.rule[gap][:20]) == {"climate"}


def test_none_fills_nothing_and_a_choice_of_rules_is_kept_to() -> None:
    own = without(days("Home", "2001-01-01"), "2020-05-01", "2020-05-05")
    places = SiteRecords(SITES, pd.concat([own, days("Hill", "2001-01-01")]))
    for rules, mark in ((("none",), "none"), (("interpolate",), "none"), (("climate",), "climate")):
        whole = places.whole("Home", END, rules)
        assert whole is not None
        assert [(whole.rule == mark).sum(), (whole.rule != "").sum()] == [5, 5]
        lacking = np.isnan(whole.days.columns["tmin_c"])
        assert np.array_equal(lacking, whole.rule == "none")


def test_before_a_short_record_stands_the_neighbours_past_at_the_sites_level() -> None:
    places = SiteRecords(
        SITES, pd.concat([days("Home", "2018-01-01"), days("Hill", "1991-01-01", warmer=-3.0)])
    )
    whole = places.whole("Home", END, DEFAULT_RULES)
    assert whole is not None
    assert (whole.lenders, round(whole.own_years)) == (("Hill",), 3)
    assert whole.own_years < LEAST_OWN_YEARS
    lent = whole.rule == LENT
    assert lent.sum() == (np.datetime64("2018-01-01") - np.datetime64("1991-01-01")).astype(int)
    truth = days("Home", "1991-01-01", "2017-12-31")["tmin_c"].to_numpy()
    np.testing.assert_allclose(whole.days.columns["tmin_c"][lent], truth, atol=1e-6)


def test_a_record_of_ten_years_borrows_nothing() -> None:
    places = SiteRecords(SITES, pd.concat([days("Home", "2010-01-01"), days("Hill", "1991-01-01")]))
    whole = places.whole("Home", END, DEFAULT_RULES)
    assert whole is not None
    assert whole.lenders == ()
    assert whole.days.start == np.datetime64("2010-01-01")


def test_a_site_without_weather_takes_the_neighbours_by_height() -> None:
    """Five hundred metres higher: 3.25 degC colder by day, half of it by night (ICAO Doc 7488)."""
    places = SiteRecords(SITES, days("Home", "2001-01-01"))
    whole = places.whole("Hill", END, DEFAULT_RULES)
    assert whole is not None
    assert whole.own_years == 0
    assert set(whole.rule) == {"neighbours"}
    below = days("Home", "2001-01-01")
    drop = below["tmax_c"].mean() - whole.days.columns["tmax_c"].mean()
    assert drop == pytest.approx(3.25, abs=0.05)
    assert places.whole("Hill", END, ("interpolate", "climate")) is None
    assert places.whole("Far", END, DEFAULT_RULES) is None


def test_what_comes_later_does_not_change_what_was_filled() -> None:
    own = without(days("Home", "2001-01-01"), "2015-03-10", "2015-03-31")
    both = pd.concat([own, days("Hill", "2001-01-01", warmer=-3.0)])
    cut = pd.Timestamp("2015-03-20")
    then = SiteRecords(SITES, both[both["date"] < cut])
    later = both.assign(tmax_c=both["tmax_c"].where(both["date"] < cut, 40.0))
    known = SiteRecords(SITES, later[later["date"] < cut])
    end = np.datetime64("2015-03-20")
    first, second = (each.whole("Home", end, DEFAULT_RULES) for each in (then, known))
    assert first is not None
    assert second is not None
    assert len(first.rule) == (end - first.days.start).astype(int)
    for name in ("tmin_c", "tmax_c"):
        assert np.array_equal(first.days.columns[name], second.days.columns[name])
