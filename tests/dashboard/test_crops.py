import pytest

from dashboard.views.crops import (
    crop_cells,
    season_totals,
    seasons_shown,
    usual_swing,
    verdict,
)
from tests.dashboard.made_up import crop


def test_a_cultivars_season_adds_up_its_trees_and_counts_the_missing() -> None:
    cells = crop_cells(
        [crop(2025, weight_kg=4.0), crop(2025, "not recorded", tree="A2"), crop(2024, "stripped")]
    )
    assert [cell.season for cell in cells] == [2024, 2025]
    assert (cells[0].crop, cells[0].weight_kg) == ("stripped", None)
    assert (cells[1].crop, cells[1].weight_kg) == ("picked", 4.0)
    assert (cells[1].trees, cells[1].picked, cells[1].missing) == (2, 1, 1)


@pytest.mark.parametrize("kind", ["stripped", "none", "not recorded"])
def test_no_pick_is_never_a_weight(kind: str) -> None:
    (cell,) = crop_cells([crop(2025, kind)])  # type: ignore[arg-type]
    assert cell.crop == kind
    assert cell.weight_kg is None


def test_a_season_is_compared_like_with_like() -> None:
    (total,) = season_totals(
        [
            crop(2025, weight_kg=12.0, against=0.2),
            crop(2025, weight_kg=8.0, against=-0.2, tree="A2"),
            crop(2025, weight_kg=99.0, tree="A3"),
            crop(2025, weight_kg=1.0, against=-0.9, tree="A4", complete=False),
        ]
    )
    assert total.weight_kg == 120.0
    assert (total.picked, total.compared) == (4, 2)
    # Usually 12 / 1.2 = 10 kg and 8 / 0.8 = 10 kg: 20 kg against 20 kg.
    assert total.against_usual == pytest.approx(0.0)
    assert not total.complete


def test_better_only_beyond_the_usual_swing() -> None:
    totals = season_totals(
        [
            crop(season, weight_kg=10.0, against=against)
            for season, against in ((2021, 0.1), (2022, -0.1), (2023, 0.1), (2024, -0.5))
        ]
    )
    swing = usual_swing(totals, 2024)
    assert swing == pytest.approx(0.1)
    assert verdict(totals[-1], swing) == "poorer"
    assert verdict(totals[0], 0.3) == "about as usual"
    assert verdict(totals[0], 0.05) == "better"


def test_too_few_seasons_say_so() -> None:
    totals = season_totals([crop(2023, weight_kg=1.0, against=0.1), crop(2024, weight_kg=1.0)])
    assert usual_swing(totals, 2024) is None
    assert verdict(totals[0], None) == "too few to say"
    assert verdict(totals[1], 0.1) == "too few to say"


def test_seasons_shown_begin_with_the_first_record() -> None:
    yields = [crop(2010, "not recorded"), crop(2015, "stripped"), crop(2018, weight_kg=1.0)]
    assert seasons_shown(yields, 12) == [2015, 2016, 2017, 2018]
    assert seasons_shown(yields, 2) == [2017, 2018]
    assert seasons_shown(yields[:1], 12) == []
