"""The pooled model as an estimator, held against scikit-learn's own tools."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest
from sklearn.base import clone
from sklearn.dummy import DummyRegressor
from sklearn.linear_model import LinearRegression
from sklearn.model_selection import LeaveOneGroupOut, cross_val_predict

from harvest.errors import QuantityError
from harvest.phenology.backtest import backtest
from harvest.phenology.baselines import LAST_SEASON, MEAN_DAY, TREND
from harvest.phenology.candidates import (
    CHILL_BESIDE,
    CHILL_FIRST,
    PlainCandidate,
    PooledCandidate,
    plain_candidates,
    pooled_candidates,
)
from harvest.phenology.hindcast import Lead
from harvest.phenology.kept_fits import KeptFits
from harvest.phenology.pooled import PooledDates
from harvest.phenology.pooled_cells import CellColumns, CellPanel, cell_frame
from harvest.phenology.pooled_effects import KnownCells, Priors, Variances
from harvest.phenology.result import EventName
from harvest.phenology.ripening import EARLY, other_clocks
from harvest.traits import tree_traits
from harvest.tree_years import with_seasons
from tests.phenology.forward import cherry_frames
from tests.phenology.made_records import made_records

PRIORS = Priors(site_sd=3.0, covariates=((0.0, 0.3),))


def made_cells(
    seed: int = 1, seasons: int = 15, cultivars: int = 4
) -> tuple[pd.DataFrame, pd.Series]:
    """Invented cells of two sites: days with a cultivar, season, clock and noise part."""
    random, seasons, cultivars = np.random.default_rng(1), 15, 4
    grid = pd.MultiIndex.from_product([range(2), range(cultivars), range(2000, 2000 + seasons)])
    site, cultivar, year = (np.asarray(level) for level in zip(*grid, strict=True))
    season = site * seasons + year - 2000
    effect = random.normal(0, 2, 2 * seasons)[season]
    clock = random.normal(0, 5, 2 * seasons)[season]
    bloom = random.normal(0, 4, len(site))
    days = 100 + 6 * cultivar + effect + 0.9 * clock + random.normal(0, 1.5, len(site))
    ones = np.ones(len(site))
    frame = cell_frame(
        labels={"cultivar": cultivar, "site": site, "season": season, "year": year},
        numbers={
            "trees": ones,
            "spread": ones,
            "prior_mean": 100 + 6.0 * cultivar + 2,
            "prior_sd": 8 * ones,
        },
        clocks={"good": clock + random.normal(0, 1, len(site)), "poor": random.normal(0, 5, 120)},
        covariates={"bloom": bloom},
    )
    return frame, pd.Series(days)


def test_left_out_errors_are_those_of_refitting_without_the_season() -> None:
    """scikit-learn leaves each season out and fits anew; we leave it out of one fit."""
    cells, days = made_cells()
    one_clock = PooledCandidate(PRIORS, ("good",))
    told = cross_val_predict(one_clock, cells, days, groups=cells["season"], cv=LeaveOneGroupOut())
    refitted = days.to_numpy() - told
    quick = PooledDates(PRIORS, ("good",)).fit(cells, days).left_out_
    assert np.corrcoef(refitted, quick)[0, 1] > 0.97
    assert np.sqrt(np.mean((refitted - quick) ** 2)) < 0.3 * refitted.std()


def test_one_inverse_with_a_border_is_what_each_clock_would_have_alone() -> None:
    """numpy solves the whole normal equations of each clock (Gelman et al. 2013, chapter 14)."""
    cells, days = made_cells()
    panel = CellPanel.of(cells, None)
    columns, middle = CellColumns(panel), Variances(np.ones(len(cells)), 9.0, 4.0)
    rows, value = columns.rows(panel), days.to_numpy()
    found = KnownCells(columns, panel, value, PRIORS).effects(middle, panel.advance)
    mean, precision = columns.priors(PRIORS.site_sd, PRIORS.covariates, middle.season)
    slope, sd = PRIORS.advance
    for clock, advance in enumerate(panel.advance):
        whole = np.column_stack([rows, advance])
        information = whole.T @ whole / middle.noise + np.diag(np.append(precision, sd**-2))
        told = whole.T @ value / middle.noise + np.append(precision * mean, slope / sd**2)
        fitted = whole @ np.linalg.solve(information, told)
        np.testing.assert_allclose(found.mean(rows, panel.advance)[clock], fitted, rtol=1e-9)
        doubt = np.einsum("ij,ji->i", whole, np.linalg.solve(information, whole.T))
        np.testing.assert_allclose(found.variance(rows, panel.advance)[clock], doubt, rtol=1e-7)


def test_a_clock_that_tells_weighs_more_than_one_that_does_not() -> None:
    fitted = PooledDates(PRIORS).fit(*made_cells())
    assert fitted.clocks_ == ("good", "poor")
    assert fitted.weights_.sum() == pytest.approx(1.0)
    assert fitted.weights_[0] > 0.8


def test_it_beats_the_mean_on_seasons_left_out() -> None:
    cells, days = made_cells()
    groups, cv = cells["season"], LeaveOneGroupOut()
    pooled = cross_val_predict(PooledCandidate(PRIORS), cells, days, groups=groups, cv=cv)
    plain = cross_val_predict(DummyRegressor(), cells, days, groups=groups, cv=cv)
    assert np.abs(days - pooled).mean() < 0.4 * np.abs(days - plain).mean()


def test_without_records_it_says_its_priors() -> None:
    cells, _ = made_cells()
    found = PooledDates(PRIORS).fit(cells.head(0), []).predict_dates(cells)
    clocks = cells[["clock: good", "clock: poor"]].mean(axis=1)
    np.testing.assert_allclose(found.mean, cells["prior_mean"] + 0.85 * clocks)
    assert (found.variance > 8.0**2 + 3.0**2).all()
    assert (found.season_variance == PRIORS.season_variance).all()


def test_the_order_of_the_cells_does_not_matter() -> None:
    cells, days = made_cells()
    order = np.random.default_rng(3).permutation(len(cells))
    fitted = PooledDates(PRIORS).fit(cells, days)
    mixed = PooledDates(PRIORS).fit(cells.iloc[order], days.iloc[order])
    np.testing.assert_allclose(fitted.predict(cells), mixed.predict(cells), atol=1e-6)


def test_a_season_that_has_begun_moves_the_cultivars_still_to_come() -> None:
    cells, days = made_cells()
    late = cells["cultivar"].eq(3) & cells["season"].eq(14)
    early = cells["cultivar"].lt(3) & cells["season"].eq(14)
    shifted = days + 6.0 * early
    before = PooledDates(PRIORS).fit(cells[~late], days[~late]).predict(cells[late])
    after = PooledDates(PRIORS).fit(cells[~late], shifted[~late]).predict(cells[late])
    assert after[0] - before[0] > 2.0


def test_what_cannot_be_fitted_is_refused_with_the_reason() -> None:
    cells, days = made_cells()
    with pytest.raises(QuantityError, match="one finite number of days"):
        PooledDates(PRIORS).fit(cells, days.where(days > 101))
    with pytest.raises(QuantityError, match="clock: unheard of"):
        PooledDates(PRIORS, ("unheard of",)).fit(cells, days)


@pytest.mark.parametrize("candidate", [PooledCandidate(PRIORS, ("good",)), PlainCandidate(TREND)])
def test_candidates_can_be_cloned_and_set(candidate: PooledCandidate | PlainCandidate) -> None:
    cells, days = made_cells()
    same = clone(candidate)
    assert same is not candidate
    assert same.get_params() == candidate.get_params()
    late = cells["year"] == 2014
    candidate.fit(cells[~late], days[~late])
    same.fit(cells[~late], days[~late])
    np.testing.assert_array_equal(candidate.predict(cells[late]), same.predict(cells[late]))


def test_plain_candidates_are_the_mean_the_line_and_the_last() -> None:
    """Beside scikit-learn's DummyRegressor and LinearRegression on each cultivar alone."""
    cells, days = made_cells()
    late = cells["year"] == 2014
    told = {n: c.fit(cells[~late], days[~late]) for n, c in plain_candidates().items()}
    for at in np.flatnonzero(late):
        cell = cells.iloc[[at]]
        own = ~late & (cells["site"] == cells["site"].iloc[at])
        own &= cells["cultivar"] == cells["cultivar"].iloc[at]
        years = cells.loc[own, ["year"]]
        mean = DummyRegressor().fit(years, days[own]).predict(cell[["year"]])
        line = LinearRegression().fit(years, days[own]).predict(cell[["year"]])
        assert told[MEAN_DAY].predict(cell) == pytest.approx(mean)
        assert told[TREND].predict(cell) == pytest.approx(line)
        assert told[LAST_SEASON].predict(cell) == pytest.approx(days[own].iloc[-1:])
    assert np.isnan(told[MEAN_DAY].predict(cells[cells["year"] == 2001])).all()


def test_a_fit_is_made_once_for_the_same_inputs() -> None:
    cells, days = made_cells()
    fits, model = KeptFits(), PooledDates(PRIORS)
    first = fits.fit(model, cells, days.to_numpy())
    assert fits.fit(model, cells.copy(), days.to_numpy().copy()) is first
    changed = days.to_numpy().copy()
    changed[5] += 1.0
    assert fits.fit(model, cells, changed) is not first
    assert fits.fit(PooledDates(PRIORS, ("good",)), cells, days.to_numpy()) is not first
    assert (fits.fitted, fits.reused) == (3, 1)


def test_kept_fits_forget_the_least_used() -> None:
    cells, days = made_cells()
    fits, model = KeptFits(kept=2), PooledDates(PRIORS)
    for shift in (0.0, 1.0, 2.0, 0.0):
        fits.fit(model, cells, days.to_numpy() + shift)
    assert (fits.fitted, fits.reused) == (4, 0)


@pytest.mark.parametrize("event", ["ripe", "full bloom"])
def test_past_forecasts_can_be_made_by_one_candidate_alone(event: EventName) -> None:
    """Balandran's first seasons (Wenden et al. 2016), four of its cultivars."""
    frames = cherry_frames(["balandran"])
    few = frames["trees"]["tree"].sort_values().iloc[:4]
    for kind in ("trees", "stages"):
        frames[kind] = frames[kind][frames[kind]["tree"].isin(few)]
    records = made_records(date(2004, 1, 1), frames)
    traits = tree_traits(records)
    known = with_seasons(records, traits)
    leads = [Lead(30)] if event == "ripe" else [Lead(None, 3, 15)]
    by_name = pooled_candidates(event)
    names = list(by_name)
    chosen = [names[0], names[1], CHILL_FIRST, CHILL_BESIDE]
    if event == "ripe":
        chosen[2:] = [*(kind.name for kind in other_clocks()), EARLY]
    scores = {
        name: backtest(known, traits, event, leads, candidate=by_name[name]).leads[0]
        for name in chosen
    }
    assert len({row.n for row in scores.values()}) == 1
    assert len({row.crps_days for row in scores.values()}) == len(chosen)
    assert scores[names[0]] == backtest(known, traits, event, leads).leads[0]
