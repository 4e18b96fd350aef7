"""The model of crops against a direct calculation, and against trees whose law is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from harvest.yields.swing_model import (
    CULTIVAR,
    CULTIVAR_SEASON,
    FADING,
    LEVEL,
    PLANTING,
    RATE,
    SHAPE,
    Crops,
    Fits,
    Shares,
    estimate,
    fading,
)


def some_crops(seed: int, trees: int = 9, seasons: int = 5) -> Crops:
    """Two sites and two cultivars, one of which is too rare at a site to have seasons there."""
    rng = np.random.default_rng(seed)
    z = rng.normal(0, 0.3, (2, trees, seasons + 1))
    z[:, rng.random(z.shape[1:]) < 0.2] = np.nan
    z[:, :, -1] = np.nan
    cultivar = np.sort(rng.integers(0, 2, trees))
    cultivar[0], cultivar[-1] = 0, 1
    site = rng.integers(0, 2, trees)
    site[0] = 0
    pool = 2 * site + cultivar - 1
    return Crops(z, site, cultivar, pool, np.arange(trees) // 3)


def whole_covariance(crops: Crops, shares: Shares) -> np.ndarray:
    """Prior covariance of every tree's every season, written out in full."""
    _, trees, seasons = crops.z.shape
    tree, season = np.divmod(np.arange(trees * seasons), seasons)
    alike = {name: np.equal.outer(getattr(crops, name)[tree], getattr(crops, name)[tree])
             for name in ("site", "cultivar", "pool", "planting")}  # fmt: skip
    alike["pool"] &= (crops.pool >= 0)[tree]
    apart = np.abs(np.subtract.outer(season, season))
    swing, same = (-FADING) ** apart, apart == 0
    in_season = shares.season * same + shares.season_swing * swing
    drift = shares.drift * np.minimum.outer(season, season)
    own = np.equal.outer(tree, tree)
    return np.asarray(
        LEVEL + CULTIVAR * alike["cultivar"] + PLANTING * alike["planting"]
        + alike["site"] * (in_season + drift) + CULTIVAR_SEASON * alike["pool"] * in_season
        + own * (shares.tree + shares.tree_swing * swing + same)
    )  # fmt: skip


SHARES = st.builds(
    Shares, st.floats(0.1, 2), st.floats(0, 2), st.floats(0.1, 3), st.floats(0, 3), st.floats(0, 1)
)


@settings(max_examples=25)
@given(st.integers(0, 1000), SHARES)
def test_it_agrees_with_the_conditional_normal_distribution(seed: int, shares: Shares) -> None:
    """Mean and variance of the season ahead by the textbook formula for joint normals."""
    crops = some_crops(seed)
    fits = Fits(crops, [(shares.tree, shares.tree_swing)])
    fits.make([shares])
    mean, sd = fits.ahead([shares])
    covariance = whole_covariance(crops, shares)
    seen = np.flatnonzero(~np.isnan(crops.z[0].ravel()))
    ahead = np.arange(crops.z.shape[1]) * crops.seasons + crops.seasons - 1
    gain = np.linalg.solve(covariance[np.ix_(seen, seen)], covariance[np.ix_(seen, ahead)]).T
    left = covariance[np.ix_(ahead, ahead)] - gain @ covariance[np.ix_(seen, ahead)]
    log_det = np.linalg.slogdet(covariance[np.ix_(seen, seen)])[1]
    shape = SHAPE + seen.size / 2
    for curve, z in enumerate(crops.z.reshape(2, -1)[:, seen]):
        rate = RATE + z @ np.linalg.solve(covariance[np.ix_(seen, seen)], z) / 2
        np.testing.assert_allclose(mean[0, curve], gain @ z, atol=1e-10)
        np.testing.assert_allclose(sd[0, curve], np.sqrt(rate / shape * np.diag(left)), rtol=1e-9)
        weight = shares.log_prior() - log_det / 2 - shape * np.log(rate)
        assert fits.log_weights(curve, [shares])[0] == pytest.approx(weight, rel=1e-9)


def test_each_curve_is_worked_out_as_if_it_were_the_only_one() -> None:
    crops = some_crops(5)
    for curve, both in enumerate(estimate(crops)):
        (alone,) = estimate(replace(crops, z=crops.z[[curve]]))
        for one, other in zip(both, alone, strict=True):
            np.testing.assert_allclose(one, other, atol=1e-12)


def test_a_swing_changes_its_sign_every_season_and_fades() -> None:
    np.testing.assert_allclose(fading(3), [[1, -0.9, 0.81], [-0.9, 1, -0.9], [0.81, -0.9, 1]])


def simulated(seed: int, swing: float, trees: int = 60, seasons: int = 8) -> np.ndarray:
    """Trees of one cultivar: a level, a swing of their own in either step, and scatter."""
    rng = np.random.default_rng(seed)
    level = rng.normal(0, 0.1, (trees, 1))
    step = rng.choice([-1, 1], (trees, 1)) * (-1.0) ** np.arange(seasons)
    return np.asarray(level + swing * step + rng.normal(0, 0.1, (trees, seasons)))


def forecast(z: np.ndarray) -> np.ndarray:
    trees = len(z)
    none = np.zeros(trees, int)
    ahead = np.column_stack([z, np.full(trees, np.nan)])
    (mixture,) = estimate(Crops(ahead[None], none, none, none - 1, none))
    return mixture.quantiles(np.tile([0.1, 0.5, 0.9], (trees, 1)))


def test_the_swing_is_learned_where_there_is_one_and_not_where_there_is_none() -> None:
    for swing, most in ((0.3, 0.45), (0.0, 1.0)):
        z = simulated(1, swing)
        found = forecast(z[:, :-1])[:, 1]
        last = np.abs(z[:, -1] - z[:, -2]).mean()
        own = np.abs(z[:, -1] - z[:, :-1].mean(axis=1)).mean()
        assert np.abs(z[:, -1] - found).mean() < most * last
        assert np.abs(z[:, -1] - found).mean() < 1.1 * own


def test_eight_in_ten_of_trees_that_follow_the_law_lie_within() -> None:
    inside = []
    for seed in range(12):
        z = simulated(seed, 0.2)
        found = forecast(z[:, :-1])
        inside.append(np.mean((z[:, -1] >= found[:, 0]) & (z[:, -1] <= found[:, 2])))
    assert 0.75 < np.mean(inside) < 0.9


def test_quantiles_rise_with_their_level() -> None:
    found = forecast(simulated(3, 0.2)[:, :3])
    assert (np.diff(found, axis=1) > 0).all()
