"""Thinning of trees that keep a crop: number, distance, days, fruit weight, next season's bloom."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from harvest.store.reference import bearing_curve_table
from harvest.yields.crop_estimate import crop_estimates
from harvest.yields.result import ThinningPlan
from harvest.yields.thinning import thinning_plans
from tests.yields.forward import reference as yield_reference
from tests.yields.made_records import SOUTH, orchard, tree
from tests.yields.made_records import reference as crop_reference


def plan(
    as_of: str = "2026-05-01",
    season: int = 2026,
    bloom: dict[float, date] | None = None,
    estimated: bool = True,
    *,
    trees: list[dict[str, object]] | None = None,
    **kinds: list[dict[str, object]],
) -> ThinningPlan | None:
    records = orchard(as_of, trees or [tree(planted="2010-03-01")], **kinds)
    estimates = crop_estimates(records, season, yield_reference()) if estimated else []
    found = thinning_plans(
        records,
        season,
        crop_reference(records),
        bearing_curve_table(),
        {row.tree: row for row in estimates},
        {} if bloom is None else {"T": bloom},
    )
    return found[0] if found else None


GIRTH = [{"date": "2026-01-10", "girth_cm": 20.0}]
BLOOM = [{"date": "2026-04-20", "bbch": 65}]


def crops(kg: dict[int, float], fruit_g: float = 160.0) -> list[dict[str, object]]:
    return [
        {"date": f"{season}-09-15", "weight_kg": weight, "last": True,
         "fruit_count": round(1000 * weight / fruit_g)}
        for season, weight in kg.items()
    ]  # fmt: skip


def test_the_target_is_the_crop_load_on_the_trunk() -> None:
    # 20 cm girth is 31.831 cm2 (check_values.csv); mature Gala 6 fruit/cm2 (crop_load.csv).
    found = plan(girths=GIRTH, stages=BLOOM)
    assert found is not None
    assert found.target_fruit == 190
    assert found.spacing_cm == (10, 20)  # NC State Extension (fruit thinning), species.csv


def test_without_a_girth_the_size_of_such_a_tree_speaks_and_says_so() -> None:
    found = plan(stages=BLOOM)
    assert found is not None
    # 15 to 40 kg of 100 to 300 g fruit (species.csv).
    assert 15 / 0.3 < (found.target_fruit or 0) < 40 / 0.1
    assert any("No girth to go by" in text for text in found.reasons)


def test_days_are_counted_from_bloom_logged_forecast_or_usual() -> None:
    logged = plan(girths=GIRTH, stages=BLOOM)
    ahead = {0.1: date(2026, 4, 20), 0.5: date(2026, 4, 25), 0.9: date(2026, 5, 1)}
    forecast = plan("2026-04-01", bloom=ahead, girths=GIRTH)
    usual = plan("2026-04-01", girths=GIRTH)
    assert logged is not None and logged.start == date(2026, 5, 20)  # noqa: PT018
    assert logged.end == date(2026, 4, 20) + timedelta(days=42)
    assert forecast is not None and forecast.start == date(2026, 5, 25)  # noqa: PT018
    assert any("forecast (8 in 10: 20 April 2026 to 1 May 2026)" in t for t in forecast.reasons)
    assert usual is not None
    assert any("usual here" in text for text in usual.reasons)


def test_the_natural_drop_is_in_december_in_the_south() -> None:
    stages = [{"date": "2025-10-10", "bbch": 65}]
    found = plan("2025-11-01", trees=[tree(site=SOUTH, planted="2010-07-01")], stages=stages)
    assert found is not None
    assert found.start == date(2025, 11, 9)
    assert any("December drop" in text for text in found.reasons)


def test_stone_fruit_are_thinned_before_the_pit_hardens() -> None:
    peach = tree(species="peach", cultivar="Redhaven", planted="2010-03-01")
    found = plan(trees=[peach], stages=[{"date": "2026-04-01", "bbch": 65}])
    assert found is not None and found.end is not None  # noqa: PT018
    # Stage I of the peach lasts to some 50 days after bloom (pit hardening follows).
    assert found.end <= date(2026, 4, 1) + timedelta(days=50)


@pytest.mark.parametrize(("species", "cultivar"), [("sweet cherry", "Lapins"), ("fig", "own")])
def test_species_that_are_not_thinned_get_no_plan(species: str, cultivar: str) -> None:
    assert plan(trees=[tree(species=species, cultivar=cultivar)]) is None


def test_a_young_tree_that_is_stripped_gets_no_plan() -> None:
    assert plan(trees=[tree(planted="2026-03-01")]) is None


def test_more_fruit_weigh_less_each_by_the_published_load_of_honeycrisp() -> None:
    # Robinson 2008: about 200 to 220 g at the best load (4), 175 g at 7, 150 g at 10 and more.
    at_four, at_seven, at_ten = (210 * (load / 4) ** (-1 / 3) for load in (4, 7, 10))
    assert 200 <= at_four <= 220
    assert at_seven == pytest.approx(175, rel=0.05)
    assert at_ten == pytest.approx(150, rel=0.05)


def test_fruit_weight_goes_by_the_trees_own_seasons() -> None:
    past = crops(dict.fromkeys(range(2018, 2026), 30.0), fruit_g=160)
    girths = [{"date": f"{year}-01-10", "girth_cm": 20.0} for year in range(2018, 2027)]
    found = plan(picks=past, girths=girths, stages=BLOOM)
    assert found is not None and found.fruit_g is not None and found.kg is not None  # noqa: PT018
    assert found.fruit_g.middle == pytest.approx(160, abs=5)
    assert any("its own fruit" in text for text in found.reasons)
    assert found.kg.low < found.kg.middle < found.kg.high


def test_a_heavy_crop_on_a_tree_that_alternates_puts_next_seasons_bloom_at_risk() -> None:
    swing = crops({season: 70.0 if season % 2 == 0 else 8.0 for season in range(2012, 2026)})
    on_year = plan(picks=swing, girths=GIRTH, stages=BLOOM)
    assert on_year is not None
    assert on_year.return_bloom_risk == "high"
    off_year = plan(
        "2025-05-01", 2025, picks=swing[:-1], girths=[{"date": "2025-01-10", "girth_cm": 20.0}],
        stages=[{"date": "2025-04-20", "bbch": 65}],
    )  # fmt: skip
    assert off_year is not None
    assert off_year.return_bloom_risk == "low"
    unknown = plan(girths=GIRTH, stages=BLOOM, estimated=False)
    assert unknown is not None
    assert unknown.return_bloom_risk == "unknown"


@settings(max_examples=30)
@given(st.floats(3, 60), st.floats(0.3, 1.0))
def test_a_thinner_trunk_never_raises_the_target(girth_cm: float, share: float) -> None:
    targets = []
    for girth in (girth_cm, girth_cm * share):
        found = plan(
            estimated=False, girths=[{"date": "2026-01-10", "girth_cm": girth}], stages=BLOOM
        )
        # No plan: so thin a trunk carries nothing and is stripped.
        targets.append(0 if found is None else found.target_fruit or 0)
    assert targets[1] <= targets[0]
