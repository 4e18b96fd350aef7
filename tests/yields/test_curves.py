"""What the pictures of yields show, and what each coming week brings."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest import service_yields
from harvest.service import open_orchard
from harvest.yields.curves import (
    cumulative_by_rootstock,
    forecast_against_picked,
    shares_inside,
    yield_by_trunk,
)
from harvest.yields.expectation import fair_table
from harvest.yields.frost_damage import crops_left
from harvest.yields.result import CropBasis, CropEstimate
from harvest.yields.weekly_crop import PickingWindow, weekly_crop
from tests.yields.forward import coffee_trial, reference
from tests.yields.made_records import orchard, tree
from tests.yields.open_yields import apple_trial

DEMO_DAY = date(2026, 8, 12)


def picked(kg: dict[int, float], name: str = "T") -> list[dict[str, object]]:
    return [
        {"tree": name, "date": f"{season}-09-15", "weight_kg": weight, "last": True}
        for season, weight in kg.items()
    ]


def test_running_totals_rank_the_rootstocks_of_the_open_apple_trial() -> None:
    """Archbold et al. 1987 (agridat, MIT): kg per tree over 1975 to 1979, spread evenly here."""
    trial = apple_trial()
    names = [f"{place.row} {place.pos} {place.rep}" for place in trial.itertuples()]
    trees = [tree(name, planted="1971-03-01", rootstock=stock, vigour=None)
             for name, stock in zip(names, trial["stock"], strict=True)]  # fmt: skip
    picks = [row for name, total in zip(names, trial["yield"], strict=True)
             for row in picked(dict.fromkeys(range(1975, 1980), total / 5), name)]  # fmt: skip
    records = orchard("1980-02-01", trees, picks=picks)
    points = cumulative_by_rootstock(fair_table(records, reference()))
    last = max(point.leaf for point in points)
    ends = {point.rootstock: point.kg_per_tree for point in points if point.leaf == last}
    own = trial.groupby("stock")["yield"].mean().to_dict()
    assert ends == pytest.approx(own)


def test_a_tree_with_a_season_missing_has_no_known_total() -> None:
    rows = picked({2018: 5.0, 2019: 6.0, 2020: 7.0}, "A") + picked({2018: 5.0, 2020: 7.0}, "B")
    records = orchard("2021-02-01", [tree("A"), tree("B")], picks=rows)
    points = cumulative_by_rootstock(fair_table(records, reference()))
    assert [(point.kg_per_tree, point.trees) for point in points] == [
        (5.0, 2),
        (11.0, 1),
        (18.0, 1),
    ]


def test_yield_by_trunk_names_the_measurement_it_rests_on() -> None:
    girths = [{"date": "2020-01-10", "girth_cm": 20.0}]
    records = orchard("2021-02-01", [tree()], picks=picked({2020: 12.0}), girths=girths)
    points = yield_by_trunk(fair_table(records, reference()))
    assert len(points) == 1
    assert points[0].tcsa_cm2 == pytest.approx(31.831, abs=0.001)  # check_values.csv
    assert points[0].girth_date == date(2020, 1, 10)


def test_a_past_forecast_sees_only_what_was_known_then() -> None:
    """Coffee (Páez 1962, agridat, MIT): 80 % intervals hold about eight in ten."""
    trial = coffee_trial()
    records = trial.records(5)
    # The frames made for tests hold no forecast weather; every issue would be cut off as well.
    records = records.__class__(**{**vars(records), "weather_ahead": records.weather.assign(
        issued=records.weather["date"])})  # fmt: skip
    frost = crops_left(records, reference().frost_kill)
    fair = fair_table(records, reference())
    rows = forecast_against_picked(records, fair, [2014], reference(), frost)
    assert len(rows) == len(trial.kg)
    assert {row.as_of for row in rows} == {date(2014, 1, 1)}
    own = dict(zip((row["tree"] for row in trial.trees), trial.kg[:, :3], strict=True))
    usual = {row.tree: row.own_mean_kg for row in rows}
    assert usual == pytest.approx({name: np.nanmean(kg) for name, kg in own.items()})
    assert {row.own_seasons for row in rows} <= {2, 3}
    inside, number = shares_inside(rows)
    assert 0.65 < inside / number < 0.97


def test_the_demo_shows_its_pictures(demo_template: Path) -> None:
    found = service_yields.yield_pictures(open_orchard(str(demo_template)), DEMO_DAY)
    assert {point.rootstock for point in found.cumulative} >= {"M.9", "MM.106", "seedling"}
    assert len(found.by_trunk) > 300


# Weeks


def estimate(name: str, low: float, middle: float, high: float) -> CropEstimate:
    kg = {0.1: low, 0.25: (low + middle) / 2, 0.5: middle, 0.75: (middle + high) / 2, 0.9: high}
    return CropEstimate(
        name, "Home", "apple", name, 2026, kg, middle, 0.0, CropBasis(5, 1, None, 5), ()
    )


def window(ripe: date, last: date, sure: int = 0) -> PickingWindow:
    def around(day: date) -> dict[float, date]:
        return {0.1: day - timedelta(sure), 0.5: day, 0.9: day + timedelta(sure)}

    return PickingWindow(around(ripe), around(last))


DATES = st.dates(date(2026, 6, 1), date(2026, 11, 1))


@given(
    st.lists(st.tuples(DATES, st.integers(0, 40), st.floats(1, 80)), min_size=1, max_size=5),
    st.integers(0, 6),
)
def test_the_weeks_add_up_to_the_crops(trees: list[tuple[date, int, float]], begins: int) -> None:
    estimates = [estimate(f"T{at}", kg, kg, kg) for at, (_, _, kg) in enumerate(trees)]
    windows = {
        (f"T{at}", 2026): window(ripe, ripe + timedelta(days))
        for at, (ripe, days, _) in enumerate(trees)
    }
    weeks, _ = weekly_crop(estimates, windows, date(2026, 5, 20), begins)
    total = sum(kg for _, _, kg in trees)
    # The last weeks are cut off when all but a hundredth is in.
    assert sum(week.mean_kg for week in weeks) == pytest.approx(total, rel=0.03, abs=0.1)
    assert [week.start.weekday() for week in weeks] == [begins] * len(weeks)


def test_a_glut_and_an_empty_week_are_told() -> None:
    estimates = [estimate("A", 9, 10, 11), estimate("B", 90, 100, 110), estimate("C", 9, 10, 11)]
    days = {"A": date(2026, 7, 6), "B": date(2026, 8, 3), "C": date(2026, 8, 10)}
    windows = {(name, 2026): window(day, day + timedelta(6)) for name, day in days.items()}
    weeks, _ = weekly_crop(estimates, windows, date(2026, 7, 1))
    loads = {week.start: week.load for week in weeks}
    assert loads[date(2026, 8, 3)] == "glut"
    assert loads[date(2026, 7, 20)] == "nothing"
    assert loads[date(2026, 7, 6)] == loads[date(2026, 8, 10)] == "usual"


def test_a_week_holds_what_is_picked_on_its_own_days() -> None:
    """Ripe on a Sunday and over by the Tuesday: the one week from Sunday, two weeks from Monday."""
    windows = {("A", 2026): window(date(2026, 7, 5), date(2026, 7, 7))}
    estimates = [estimate("A", 30, 30, 30)]
    from_sunday, _ = weekly_crop(estimates, windows, date(2026, 7, 1), 6)
    assert [(week.start, week.mean_kg) for week in from_sunday if week.mean_kg] == [
        (date(2026, 7, 5), 30.0)
    ]
    from_monday, _ = weekly_crop(estimates, windows, date(2026, 7, 1))
    assert [week.start for week in from_monday] == [date(2026, 6, 29), date(2026, 7, 6)]
    assert [week.mean_kg for week in from_monday] == pytest.approx([10.0, 20.0], abs=0.01)


def test_the_demo_tells_its_weeks(demo_template: Path) -> None:
    weeks = service_yields.crops_ahead(open_orchard(str(demo_template)), DEMO_DAY).weeks
    north = [week for week in weeks if week.site == "Quernwell"]
    assert north[0].start == date(2026, 8, 10)
    assert "glut" in {week.load for week in north}
    assert all(week.kg[0.1] <= week.kg[0.5] <= week.kg[0.9] for week in weeks)
    assert len({(week.site, week.start) for week in weeks}) == len(weeks)
