"""The backtest is strictly forward, scores what was said, and says what cannot be concluded."""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from harvest.errors import InputError
from harvest.phenology.backtest import (
    LEADS,
    Backtest,
    IntervalScores,
    backtest,
    parse_lead,
    verdict,
)
from harvest.phenology.baselines import INTERVAL, LAST_SEASON, MEAN_DAY, TREND, baselines, mean_of
from harvest.phenology.hindcast import Lead, past_forecasts
from harvest.phenology.result import QUANTILES
from harvest.phenology.scores import crps_student
from harvest.records import Records
from harvest.traits import tree_traits
from harvest.tree_years import with_seasons
from tests.phenology.forward import cherry_frames
from tests.phenology.invented import LAST, dates, orchard, seasons
from tests.phenology.made_records import forecast_at, made_records


def readied(records: Records) -> tuple[Records, pd.DataFrame]:
    traits = tree_traits(records)
    return with_seasons(records, traits), traits


@cache
def cherries() -> tuple[Records, pd.DataFrame]:
    return readied(made_records(date(2009, 1, 1), cherry_frames(["balandran"])))


@cache
def scored() -> Backtest:
    records, traits = cherries()
    return backtest(records, traits, "ripe", [Lead(30), Lead(60)])


def test_each_case_is_what_the_forecast_said_that_day() -> None:
    """With all trees on record, those among them whose date was never logged."""
    records, _ = cherries()
    cases = [c for c in scored().cases if c.said.season == 2007]
    assert len({case.said.as_of for case in cases}) == 2
    said = {
        (as_of, e.tree, e.season): e.quantiles
        for as_of in {case.said.as_of for case in cases}
        for e in forecast_at(records, as_of)
        if e.event == "ripe"
    }
    for case in cases:
        assert case.said.quantiles == said[case.said.as_of, case.said.tree, 2007]
        assert case.error == (case.said.observed - case.said.quantiles[0.5]).days


def test_only_dates_that_had_not_come() -> None:
    cases = scored().cases
    assert len(cases) > 200
    assert all(case.said.as_of < case.said.observed for case in cases)
    assert all(case.said.quantiles[0.05] >= case.said.as_of for case in cases)


def test_later_seasons_change_no_earlier_score() -> None:
    records, traits = cherries()
    short = with_seasons(records.until(date(2006, 12, 1)), traits)
    early = backtest(short, traits, "ripe", [Lead(30)]).cases
    again = [c for c in scored().cases if c.said.season <= 2006 and c.lead == Lead(30)]
    assert [(c.said, c.crps, c.plain) for c in early] == [(c.said, c.crps, c.plain) for c in again]


def test_scores_are_those_of_the_cases() -> None:
    row = scored().leads[0]
    cases = [case for case in scored().cases if case.lead == Lead(30)]
    errors = np.array([case.error for case in cases])
    assert row.n == len(cases)
    assert row.seasons == len({case.said.season for case in cases})
    assert row.mean_absolute_error_days == pytest.approx(np.abs(errors).mean())
    assert row.root_mean_square_error_days == pytest.approx(np.sqrt((errors**2).mean()))
    assert row.within_3_days == pytest.approx((np.abs(errors) <= 3).mean())
    hits = [c.said.quantiles[0.1] <= c.said.observed <= c.said.quantiles[0.9] for c in cases]
    assert row.interval_80.hits == sum(hits)
    assert set(row.skill) <= {MEAN_DAY, INTERVAL, TREND, LAST_SEASON}
    with_mean = [case for case in cases if MEAN_DAY in case.plain]
    assert row.skill_n[MEAN_DAY] == len(with_mean)
    ratio = sum(c.crps for c in with_mean) / sum(c.plain[MEAN_DAY] for c in with_mean)
    assert row.skill[MEAN_DAY] == pytest.approx(1 - ratio, abs=1e-3)


def test_a_longer_lead_is_less_sure() -> None:
    early, late = scored().leads
    assert (early.lead, late.lead) == ("30 days after bloom", "60 days after bloom")
    assert early.interval_80.mean_width_days > late.interval_80.mean_width_days


def test_reliability_rises_with_the_level() -> None:
    points = scored().reliability("30 days after bloom")
    assert [point.level for point in points] == list(QUANTILES)
    shares = [point.share for point in points]
    assert shares == sorted(shares)
    assert all(point.low <= point.level <= point.high for point in points)
    assert scored().reliability("never") == ()


def test_progress_runs_from_none_to_all() -> None:
    told: list[tuple[int, int]] = []
    records, traits = readied(made_records(LAST, orchard()))
    backtest(records, traits, "ripe", [Lead(30)], lambda done, of: told.append((done, of)))
    assert [done for done, _ in told] == list(range(told[0][1] + 1))


def test_the_past_forecasts_of_a_page_are_those_of_the_backtest() -> None:
    records, traits = readied(made_records(LAST, orchard()))
    cases = backtest(records, traits, "ripe", [Lead(30)]).cases
    assert past_forecasts(records, traits, 30) == [case.said for case in cases]


def test_without_past_seasons_there_is_nothing_to_score() -> None:
    alone = seasons("P1", range(0))
    records, traits = readied(made_records(LAST, orchard(stages=alone)))
    assert backtest(records, traits, "ripe").leads == ()


def test_bloom_leads_are_half_a_year_apart_in_the_hemispheres() -> None:
    """1 February, 1 and 15 March in the north; 1 August, 1 and 15 September in the south."""
    leads = LEADS["full bloom"]
    assert [lead.on(2020, None, 45.0) for lead in leads] == [
        date(2020, 2, 1),
        date(2020, 3, 1),
        date(2020, 3, 15),
    ]
    assert [lead.on(2020, None, -35.0) for lead in leads] == [
        date(2019, 8, 1),
        date(2019, 9, 1),
        date(2019, 9, 15),
    ]
    assert Lead(None, 8, 1).on(2020, None, -35.0) == date(2020, 2, 1)
    assert Lead(30).on(2020, None, 45.0) is None


def test_bloom_is_scored_from_days_of_the_calendar() -> None:
    records, traits = readied(made_records(LAST, orchard()))
    found = backtest(records, traits, "full bloom")
    assert [row.lead for row in found.leads] == ["1 February", "1 March", "15 March"]
    assert {case.said.as_of.month for case in found.cases} == {2, 3}
    assert INTERVAL not in found.leads[0].skill
    bloomed = {year: bloom for year, (bloom, _) in dates().items()}
    assert all(case.said.observed == bloomed[case.said.season] for case in found.cases)


@pytest.mark.parametrize(
    ("text", "lead"), [("30", Lead(30)), ("0", Lead(0)), ("03-15", Lead(None, 3, 15))]
)
def test_leads_as_written(text: str, lead: Lead) -> None:
    assert parse_lead(text) == lead


@pytest.mark.parametrize("text", ["soon", "-3", "13-01", "02-30", "1-2-3", ""])
def test_other_leads_are_refused(text: str) -> None:
    with pytest.raises(InputError, match="number of days after bloom"):
        parse_lead(text)


def test_baselines_against_textbook_prediction_intervals() -> None:
    """A new value of a normal sample: mean, s * sqrt(1 + 1/n), n - 1; a line through one more."""
    years = np.array([2001.0, 2002, 2003, 2004, 2006])
    days = np.array([100.0, 104, 97, 110, 103])
    found = baselines(years, days, 2007)
    mean = found[MEAN_DAY]
    assert (mean.mean, mean.freedom) == (102.8, 4)
    assert mean.scale == pytest.approx(days.std(ddof=1) * np.sqrt(1.2))
    line = stats.linregress(years, days)
    trend = found[TREND]
    assert trend.mean == pytest.approx(line.intercept + line.slope * 2007)
    left = days - line.intercept - line.slope * years
    spread = np.sqrt((left**2).sum() / 3)
    apart = (2007 - years.mean()) ** 2 / ((years - years.mean()) ** 2).sum()
    assert trend.scale == pytest.approx(spread * np.sqrt(1 + 0.2 + apart))
    assert found[LAST_SEASON].mean == 103
    assert found[LAST_SEASON].scale == pytest.approx(np.sqrt(((4**2) + 7**2 + 13**2 + 7**2) / 4))


def test_baselines_wait_for_seasons() -> None:
    years, days = np.arange(2001.0, 2005), np.array([1.0, 2, 4, 3])
    assert baselines(years[:2], days[:2], 2003) == {}
    assert set(baselines(years, days, 2005)) == {MEAN_DAY, LAST_SEASON}


def test_student_score_is_the_integral_of_the_quantile_loss() -> None:
    level = (np.arange(20_000) + 0.5) / 20_000
    for freedom, y in ((2, 0.3), (4, -2.5), (30, 1.1)):
        x = stats.t.ppf(level, freedom)
        loss = 2 * np.where(y > x, level * (y - x), (1 - level) * (x - y)).mean()
        assert crps_student(0, 1, freedom, y) == pytest.approx(loss, abs=5e-3)


def test_the_leave_one_out_error_of_a_mean_is_its_prediction_spread() -> None:
    """s * sqrt(n / (n - 1)) for y = 100, 104, 97, 110, 103: 5.442885 (an identity)."""
    y = np.array([100.0, 104, 97, 110, 103])
    errors = [y[n] - mean_of(np.delete(y, n)).mean for n in range(5)]
    assert np.sqrt(np.mean(np.square(errors))) == pytest.approx(5.442885264, abs=1e-9)


@pytest.mark.parametrize(
    ("hits", "n", "seasons", "said"),
    [
        (16, 20, 20, "shares of 60% to 95% are compatible"),
        (4, 5, 5, "That is few: it cannot show that the spans are right"),
        (8, 20, 20, "too narrow"),
        (1000, 1000, 100, "wider than they had to be"),
    ],
)
def test_verdicts(hits: int, n: int, seasons: int, said: str) -> None:
    """Of 20 dates at 80 %, 12 to 19 hits are compatible (binomial, central 95 %)."""
    compatible = (12, 19) if n == 20 else (0, n)
    span = IntervalScores(0.8, hits, compatible, 10.0, 14.0)
    told = verdict(span, n, seasons)
    assert said in told
    assert f"{hits} of {n} dates" in told
    if n == 20:
        assert "12 to 19 would be compatible" in told


def test_a_past_forecast_is_dated_by_the_bloom_of_its_like() -> None:
    records, traits = readied(made_records(LAST, orchard()))
    for case in backtest(records, traits, "ripe", [Lead(15)]).cases:
        assert case.said.as_of == dates()[case.said.season][0] + timedelta(days=15)
