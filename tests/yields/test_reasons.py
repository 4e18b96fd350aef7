"""Why seasons were good or poor: what the records support, in order of evidence."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from harvest import service_yields
from harvest.records import Records
from harvest.service import open_orchard
from harvest.yields.expectation import fair_table
from harvest.yields.frost_damage import bloom_days, frost_damage
from harvest.yields.reasons import reason_counts, season_reasons
from harvest.yields.result import SeasonReasons
from harvest.yields.season_weather import site_series, winter_chill
from tests.yields.forward import reference
from tests.yields.made_records import NORTH, orchard, tree, with_weather

DEMO_DAY = date(2026, 8, 12)
EVEN = {season: 20.0 + season % 3 for season in range(2012, 2022)}
POOR_2018 = EVEN | {2018: 3.0}
BLOOM = [{"date": "2018-04-20", "bbch": 65}]


def old_tree(name: str = "T", **known: object) -> dict[str, object]:
    return tree(name, planted="2000-03-01", **known)


def picked(kg: dict[int, float], name: str = "T") -> list[dict[str, object]]:
    return [
        {"tree": name, "date": f"{season}-09-15", "weight_kg": weight, "last": True}
        for season, weight in kg.items()
    ]


def explained(records: Records, season: int = 2018, name: str = "T") -> SeasonReasons:
    rows = season_reasons(records, fair_table(records, reference()), reference())
    return next(row for row in rows if (row.tree, row.season) == (name, season))


def causes(row: SeasonReasons) -> list[str]:
    return [reason.cause for reason in row.reasons]


# The demo orchard: a killing frost in bloom at the northern site, 19 to 21 April 2021, -5.1 degC


def test_the_bloom_frost_of_the_demo_is_found(demo_template: Path) -> None:
    rows = service_yields.reasons(open_orchard(str(demo_template)), DEMO_DAY, season=2021)
    north = [row for row in rows if row.site == "Quernwell"]
    assert len(north) > 15
    assert {row.verdict for row in north} == {"poor"}
    found = [row for row in north if row.reasons and row.reasons[0].cause == "frost"]
    assert len(found) / len(north) > 0.9
    first = found[0].reasons[0]
    assert "20 April 2021" in first.text
    assert "-5.1 °C" in first.text
    assert "at risk on 3 nights" in first.text
    assert "kg" not in first.text
    assert reason_counts(north, "poor")["frost"] == len(found)


def test_the_quince_that_bloomed_later_is_not_called_poor(demo_template: Path) -> None:
    rows = service_yields.reasons(open_orchard(str(demo_template)), DEMO_DAY, season=2021)
    assert "quince" not in {row.species for row in rows}


def test_the_alternating_tree_of_the_demo_is_told_by_its_crops(demo_template: Path) -> None:
    rows = service_yields.reasons(open_orchard(str(demo_template)), DEMO_DAY, tree="q1-01")
    by_season = {row.season: row for row in rows}
    for season in (2018, 2020, 2023):
        assert by_season[season].verdict == "poor"
        assert by_season[season].reasons[0].cause == "heavy crop before"
    assert by_season[2019].verdict == "good"
    assert causes(by_season[2019]) == ["light crop before"]


# One cause at a time


def test_a_frosty_night_is_held_against_the_stage_of_that_day() -> None:
    """Apple in full bloom: a tenth dies at -2.2 degC, nine tenths at -3.9 (WSU Extension)."""
    made = orchard("2022-02-01", [old_tree()], picks=picked(POOR_2018), stages=BLOOM)
    row = explained(with_weather(made, {"2018-04-21": -3.0}))
    assert causes(row)[0] == "frost"
    assert "-3.0 °C on 21 April 2018" in row.reasons[0].text
    # 0.1 + 0.8 (-2.22 + 3.0) / (3.89 - 2.22) = 0.47 of the flowers.
    assert "About 47%" in row.reasons[0].text
    # The same night three weeks earlier, at green tip (kill at -7.8 degC), is no reason.
    early = explained(with_weather(made, {"2018-03-28": -3.0}))
    assert "frost" not in causes(early)


def test_the_share_killed_agrees_with_the_table_at_its_own_temperatures() -> None:
    made = orchard("2022-02-01", [old_tree()], picks=picked(POOR_2018), stages=BLOOM)
    for night, share in ((-2.22, 0.1), (-3.89, 0.9), (-1.0, 0.0), (-9.0, 1.0)):
        records = with_weather(made, {"2018-04-20": night})
        blooms = bloom_days(records)
        found = frost_damage(records, blooms, reference().frost_kill)
        assert found["share"].iloc[0] == pytest.approx(share, abs=1e-9)


def test_a_missing_night_is_not_a_mild_one() -> None:
    made = orchard("2022-02-01", [old_tree()], picks=picked(POOR_2018), stages=BLOOM)
    records = with_weather(made)
    weather = records.weather
    near = weather["date"].between("2018-03-01", "2018-06-15")
    records = replace(records, weather=weather.assign(tmin_c=weather["tmin_c"].mask(near)))
    found = frost_damage(records, bloom_days(records), reference().frost_kill)
    assert np.isnan(found["share"].iloc[0])
    assert found["days_known"].iloc[0] == 0


def test_a_heavy_crop_the_season_before_is_a_reason_and_an_even_one_is_not() -> None:
    heavy = picked(EVEN | {2017: 45.0, 2018: 3.0})
    assert (
        causes(explained(orchard("2022-02-01", [old_tree()], picks=heavy)))[0]
        == "heavy crop before"
    )
    even = orchard("2022-02-01", [old_tree()], picks=picked(POOR_2018))
    assert "heavy crop before" not in causes(explained(even))


def test_hail_of_the_site_and_disease_of_the_tree_are_named_by_severity() -> None:
    events = [
        {"site": NORTH, "date": "2018-06-16", "event": "hail", "severity": 2},
        {"tree": "T", "date": "2018-07-01", "event": "disease", "severity": 3, "note": "canker"},
        {"site": NORTH, "date": "2016-06-16", "event": "drought", "severity": 3},
    ]
    found = explained(orchard("2022-02-01", [old_tree()], picks=picked(POOR_2018), events=events))
    named = [cause for cause in causes(found) if cause in ("hail", "disease", "drought")]
    assert named == ["disease", "hail"]
    assert any("canker" in reason.text for reason in found.reasons)


def test_a_cold_and_a_wet_bloom_are_named() -> None:
    made = orchard("2022-02-01", [old_tree()], picks=picked(POOR_2018), stages=BLOOM)
    assert "cold bloom" in causes(explained(with_weather(made, warm_c=11.5)))
    assert "wet bloom" in causes(explained(with_weather(made, rain_mm=4.0)))
    fair = causes(explained(with_weather(made)))
    assert "cold bloom" not in fair
    assert "wet bloom" not in fair


def test_too_mild_a_winter_is_named_and_a_cold_one_is_not() -> None:
    made = orchard("2022-02-01", [old_tree(cultivar="own seedling")], picks=picked(POOR_2018))
    assert "winter chill" in causes(explained(with_weather(made, warm_c=32.0)))
    assert "winter chill" not in causes(explained(with_weather(made, warm_c=16.0)))
    low = orchard("2022-02-01", [old_tree(cultivar="Anna")], picks=picked(POOR_2018))
    assert "winter chill" not in causes(explained(with_weather(low, warm_c=32.0)))  # 100-300 hours


def test_winter_chill_agrees_with_the_published_model_at_a_steady_temperature() -> None:
    """1000 h of 6 degC make 34.20 portions (Fishman et al. 1987, computed independently)."""
    made = with_weather(orchard("2022-02-01", [old_tree()]))
    steady = made.weather.assign(tmin_c=6.0, tmax_c=6.0)
    series = site_series(replace(made, weather=steady))[NORTH]
    found = winter_chill(series, [2015, 2050])
    assert list(found) == [2015]
    assert found[2015] / (151 * 24) == pytest.approx(34.20 / 1000, rel=0.02)


def test_a_tree_alone_of_its_cultivars_has_no_partner() -> None:
    alone = orchard("2022-02-01", [old_tree()], picks=picked(POOR_2018), stages=BLOOM)
    assert "no pollination partner" in causes(explained(alone))
    both = [old_tree(), old_tree("F", cultivar="Fuji")]
    for bloom, missing in (("2018-04-24", False), ("2018-05-12", True)):
        stages = [*BLOOM, {"tree": "F", "date": bloom, "bbch": 65}]
        made = orchard("2022-02-01", both, picks=picked(POOR_2018), stages=stages)
        assert ("no pollination partner" in causes(explained(made))) == missing
    unknown = orchard("2022-02-01", both, picks=picked(POOR_2018), stages=BLOOM)
    assert "no pollination partner" not in causes(explained(unknown))


def test_a_partner_with_sterile_pollen_is_none() -> None:
    """Boskoop is triploid: its pollen serves nobody (data/reference/cultivars.csv)."""
    both = [old_tree(), old_tree("B", cultivar="Belle de Boskoop")]
    stages = [*BLOOM, {"tree": "B", "date": "2018-04-24", "bbch": 65}]
    made = orchard("2022-02-01", both, picks=picked(POOR_2018), stages=stages)
    assert "no pollination partner" in causes(explained(made))


def test_late_thinning_the_season_before_is_named() -> None:
    stages = [{"date": "2017-04-20", "bbch": 65}, *BLOOM]
    for day, late in (("2017-06-25", True), ("2017-05-25", False)):
        thin = [{"date": day, "action": "thin", "fruit_left": 90}]
        made = orchard(
            "2022-02-01", [old_tree()], picks=picked(POOR_2018), stages=stages, thinnings=thin
        )
        assert ("late thinning before" in causes(explained(made))) == late


def test_without_any_evidence_no_reason_is_made_up() -> None:
    both = [old_tree(cultivar="Granny Smith"), old_tree("F", cultivar="Fuji")]
    found = explained(orchard("2022-02-01", both, picks=picked(POOR_2018)))
    assert found.reasons == ()


def test_reasons_stand_in_order_of_evidence() -> None:
    events = [{"site": NORTH, "date": "2018-06-16", "event": "hail", "severity": 1}]
    made = orchard(
        "2022-02-01", [old_tree()], picks=picked(EVEN | {2017: 45.0, 2018: 3.0}),
        stages=BLOOM, events=events,
    )  # fmt: skip
    found = explained(with_weather(made, {"2018-04-20": -5.0}))
    strengths = [reason.strength for reason in found.reasons]
    assert strengths == sorted(strengths, reverse=True)
    assert causes(found)[0] == "frost"
    assert all(reason.source for reason in found.reasons)
