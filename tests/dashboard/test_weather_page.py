from __future__ import annotations

import dataclasses
import json
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from dashboard import ids
from dashboard.address import View
from dashboard.data import Course, SiteSeason
from dashboard.figures.weather import course_figure, days_figure
from dashboard.pages.weather import answer_of
from dashboard.source import Source
from dashboard.views.weather import chill_band, drawn_for, heat_band, reached_on, standing, weekly
from harvest import service
from harvest.service_known import Known, known_on
from harvest.service_season import site_season
from harvest.store.orchard import Orchard
from tests.dashboard.client import Client, all_text, app_of, find
from tests.dashboard.orchards import take_in

DAY = date(2026, 8, 12)
GALA = ("Quernwell", "apple", "Gala")


@pytest.fixture(scope="module")
def season(demo: Orchard) -> SiteSeason:
    return Source(demo, lambda: DAY).site_season(DAY, GALA)


def heat_of(season: SiteSeason) -> Course:
    assert season.heat is not None
    return season.heat


def test_the_answer_gives_degree_days_the_usual_and_the_chill(season: SiteSeason) -> None:
    said = answer_of(season, DAY)
    heat = heat_of(season)
    assert heat.last_day is not None
    assert f"{heat.total:,.0f} degree days above 4.5 °C" in said
    at = (heat.last_day - heat.first).days
    assert f"11 past years: {heat.least[at]:,.0f} to {heat.most[at]:,.0f}" in said
    which, off = standing(heat)
    assert f"{off} days {which} the usual" in said
    assert "chill portions" in said
    assert "Apple needs 40 to 80, reached on" in said


def test_the_band_of_need_begins_at_full_bloom(season: SiteSeason) -> None:
    band, need, heat = heat_band(season, "Gala"), season.heat_need, heat_of(season)
    assert band is not None
    assert need is not None
    assert season.bloom is not None
    at_bloom = heat.on(season.bloom.date)
    assert at_bloom is not None
    assert band.since == season.bloom.date
    assert (band.low - at_bloom, band.high - at_bloom) == pytest.approx((need.low, need.high))


def test_a_seasons_own_ripe_date_needed_what_the_band_says(season: SiteSeason) -> None:
    """Gala of past seasons came ripe inside the band: 8 of 10 do by its making."""
    assert season.heat_need is not None
    assert season.heat_need.low < season.heat_need.middle < season.heat_need.high
    assert season.heat_need.seasons >= 3


def test_what_comes_after_the_date_changes_nothing(demo: Orchard) -> None:
    source = Source(demo, lambda: DAY)
    then, later = date(2026, 5, 20), date(2026, 8, 12)
    early, late = (heat_of(source.site_season(day, GALA)) for day in (then, later))
    upto = (then - early.first).days
    np.testing.assert_allclose(early.now[:upto], late.now[:upto], rtol=0.01)
    assert np.isnan(early.now[upto:]).all()


def test_pictures_end_where_knowledge_ends(season: SiteSeason) -> None:
    heat = heat_of(season)
    figure = course_figure(heat, heat_band(season, "<b>Gala"), DAY, "degree days")
    now = next(trace for trace in figure.data if trace.name == "now")
    assert np.isnan(now.y[(DAY - heat.first).days])
    assert now.y[(DAY - heat.first).days - 1] == pytest.approx(heat.total)
    label = next(trace for trace in figure.data if trace.name == "need")
    assert label.text[0].startswith("&lt;b&gt;")


def test_days_that_are_doubtful_or_missing_are_marked(demo: Orchard) -> None:
    days = Source(demo, lambda: DAY).site_season(date(2026, 4, 30), GALA).days
    missing = [day for day in days if day.kind == "missing"]
    assert missing
    figure = days_figure(days, date(2026, 4, 30))
    marked = next(trace for trace in figure.data if trace.name == "missing")
    assert list(marked.x) == [day.date for day in missing]
    measured = next(trace for trace in figure.data if trace.name == "measured")
    assert len(measured.x) == sum(day.kind == "measured" for day in days)


def test_a_forecast_that_begins_after_the_date_is_shown_to_its_end(demo: Orchard) -> None:
    known = known_on(demo, DAY)
    dates = pd.date_range(DAY + timedelta(days=2), periods=3, unit="s")
    ahead = pd.DataFrame(
        {"site": "Quernwell", "date": dates, "issued": dates[0] - pd.Timedelta("2D")}
    )
    ahead = ahead.assign(tmin_c=[9.0, 10.0, 11.0], tmax_c=20.0, precip_mm=0.0, wind_kmh=5.0)
    foretold = Known(dataclasses.replace(known.records, weather_ahead=ahead))
    days = site_season(demo, DAY, GALA, known=foretold).days
    assert [(day.date, day.tmin_c) for day in days if day.kind == "forecast"] == [
        (DAY + timedelta(days=2), 9.0), (DAY + timedelta(days=3), 10.0),
        (DAY + timedelta(days=4), 11.0),
    ]  # fmt: skip


def test_a_reading_that_cannot_be_true_is_shown_as_not_trusted(
    orchard: Orchard, tmp_path: Path
) -> None:
    first = date(2022, 1, 1)
    take_in(orchard, tmp_path, "sites", [("site", "latitude", "longitude"), ("Hill", 47, 16)])
    trees = [("tree", "site", "species", "cultivar", "planted"), ("1", "Hill", "apple", "Gala",
             "2018-03-01")]  # fmt: skip
    take_in(orchard, tmp_path, "trees", trees)
    rows = []
    for n in range(1600):
        day = first + timedelta(days=n)
        mean = 10 - 9 * np.cos(2 * np.pi * n / 365.25) + n * 7 % 5
        rows.append(("Hill", day, round(mean - 4, 1), round(mean + 4, 1)))
    rows[1590] = ("Hill", rows[1590][1], rows[1590][2], 49.0)
    take_in(orchard, tmp_path, "weather", [("site", "date", "tmin_c", "tmax_c"), *rows])
    as_of = first + timedelta(days=1600)
    season = Source(orchard, lambda: as_of).site_season(as_of, ("Hill", "apple", "Gala"))
    doubted = [day for day in season.days if day.kind == "suspect"]
    assert [day.date for day in doubted] == [rows[1590][1]]
    assert doubted[0].note
    assert season.heat_need is None


def test_weeks_of_the_table_are_the_line(season: SiteSeason) -> None:
    rows, heat = weekly(season), heat_of(season)
    assert rows[0]["date"] == "2026-08-11"
    assert rows[0]["heat"] == pytest.approx(heat.total, abs=0.06)
    dated = [row for row in rows if "heat" in row]
    assert len(dated) == ((DAY - heat.first).days - 1) // 7 + 1


def test_chill_is_reached_on_the_first_day_that_has_it(season: SiteSeason) -> None:
    assert season.chill is not None
    day = reached_on(season.chill, 40)
    assert day is not None
    before, then = season.chill.on(day - timedelta(days=1)), season.chill.on(day)
    assert before is not None
    assert then is not None
    assert before < 40 <= then
    assert reached_on(season.chill, 10_000) is None


def test_what_needs_no_chill_has_no_band(season: SiteSeason) -> None:
    assert chill_band(dataclasses.replace(season, chill_need=(0.0, 0.0)), "x") is None
    assert chill_band(dataclasses.replace(season, chill_need=None), "x") is None
    assert chill_band(season, "x") is not None


def test_the_next_to_ripen_is_drawn_unless_one_is_chosen(demo: Orchard) -> None:
    events = Source(demo, lambda: DAY).forecast(DAY)
    by_site = {each.kind[0]: each for each in drawn_for(events, View())}
    assert set(by_site) == {"Quernwell", "Saltpan Reach"}
    assert by_site["Quernwell"].why == "next"
    chosen = drawn_for(events, View(cultivar="Gala"))
    assert {(each.kind[2], each.why) for each in chosen} == {("Gala", "chosen")}


def test_the_page_draws_each_site_and_names_its_sources(demo: Orchard) -> None:
    page = Client(app_of(demo)).page("/weather", "?site=Quernwell&cultivar=Gala")
    said = all_text(page)
    assert "Quernwell: warmth is" in all_text(find(page, ids.ANSWER))
    assert "Gala: " in said
    assert "days used" in said
    for what in ("heat", "chill", "days"):
        figure = find(page, f"picture-weather-{what}-0")
        assert "NaN" not in json.dumps(figure["props"]["figure"])


def test_a_site_without_weather_says_what_to_do(sqlite_address: str, tmp_path: Path) -> None:
    orchard = service.open_orchard(sqlite_address)
    take_in(orchard, tmp_path, "sites", [("site", "latitude", "longitude"), ("Hill", 47, 16)])
    trees = [("tree", "site", "species", "cultivar", "planted"), ("1", "Hill", "apple", "Gala",
             "2018-03-01")]  # fmt: skip
    take_in(orchard, tmp_path, "trees", trees)
    said = all_text(Client(app_of(orchard)).page("/weather"))
    assert "Hill: no weather is on record" in said
    assert "harvest weather fetch" in said
    # Silence is no proof of mild nights.
    said = all_text(Client(app_of(orchard)).page("/weather", "?as_of=2026-03-10"))
    assert "unknown. No temperature is on record or forecast yet from" in said
    assert "no night at or below" not in said
