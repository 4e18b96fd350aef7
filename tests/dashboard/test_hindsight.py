import dataclasses
from datetime import date

import pytest

from dashboard.pages.hindsight import hindsight_sentence
from dashboard.views.hindsight import by_cultivar, misses, score
from tests.dashboard.made_up import past


def test_a_miss_is_counted_in_days_from_the_middle() -> None:
    (miss,) = misses([past(9)])
    assert (miss.low, miss.high, miss.logged) == (-7, 7, 9)
    assert not miss.inside
    assert miss.observed == date(2024, 8, 29)


def test_the_ends_of_the_range_are_inside() -> None:
    assert all(miss.inside for miss in misses([past(-7), past(7)]))


def test_the_score_adds_up() -> None:
    total = score(misses([past(2), past(-4, 2023), past(8, 2022)]))
    assert total is not None
    assert total.count == 3
    assert total.mean_error == pytest.approx(14 / 3)
    assert total.bias == pytest.approx(2.0)
    assert total.inside == 2
    assert total.few
    assert score([]) is None


def test_a_small_number_is_called_too_few() -> None:
    total = score(misses([past(2), past(8, 2022)]))
    assert total is not None
    said = hindsight_sentence(total)
    assert "2 past forecasts" in said
    assert "off by 5.0 days on average" in said
    assert "1 of 2 ripe dates (50\u00a0%) fell inside the 80 % range" in said
    assert "too few to judge" in said


def test_a_lean_to_one_side_is_told_when_there_are_enough() -> None:
    total = score(misses([past(3, 1990 + n) for n in range(20)]))
    assert total is not None
    assert "3.0 days later than the middle" in hindsight_sentence(total)
    early = dataclasses.replace(total, bias=-3.0)
    assert "3.0 days earlier" in hindsight_sentence(early)
    assert "too few" not in hindsight_sentence(total)


def test_cultivars_stay_apart_by_site() -> None:
    groups = by_cultivar(misses([past(0), past(1, site="South"), past(2, cultivar="Aaa")]))
    assert list(groups) == [
        ("Aaa", "Northfield"),
        ("Testapple", "Northfield"),
        ("Testapple", "South"),
    ]
