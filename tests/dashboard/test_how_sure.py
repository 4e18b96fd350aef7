from __future__ import annotations

import time
from dataclasses import replace
from datetime import date, timedelta
from threading import Event
from typing import Any

import numpy as np
import pytest
from scipy.stats import binom

from dashboard.address import View
from dashboard.background import Background, Job
from dashboard.data import Backtest, Case, EventName, PastForecast
from dashboard.figures.how_sure import (
    error_figure,
    ranges_figure,
    reliability_figure,
    skill_figure,
)
from dashboard.pages import how_sure as page
from dashboard.pages.how_sure import conclusion, content, further, sentence
from dashboard.source import Source
from dashboard.texts import how_sure as words
from dashboard.views.how_sure import (
    RIPE_LEADS,
    counted,
    event_of,
    known_of,
    lead_of,
    leads_of,
    scores_at,
    shares,
    sure,
    table_rows,
)
from harvest.phenology.hindcast import Lead
from harvest.phenology.result import QUANTILES
from harvest.store.orchard import Orchard
from tests.dashboard.client import Client, all_text, app_of
from tests.dashboard.test_app import as_json

LEAD = Lead(30)
# Days from the middle for each quantile of an invented forecast.
OFFSETS = dict(zip(QUANTILES, (-9, -7, -3, 0, 3, 7, 9), strict=True))


def case(season: int, off: int, *, site: str = "Hill", lead: Lead = LEAD) -> Case:
    """A past forecast whose fruit came so many days after the middle."""
    middle = date(season, 8, 20)
    said = PastForecast(
        "1", site, "apple", "Gala", season, date(season, 5, 30),
        {level: middle + timedelta(days=days) for level, days in OFFSETS.items()},
        middle + timedelta(days=off),
    )  # fmt: skip
    return Case(lead, said, float(off), abs(off) * 0.7 + 0.5, {"trend": 4.0})


def backtest_of(offs: list[int], lead: Lead = LEAD) -> Backtest:
    cases = tuple(case(1990 + n, off, lead=lead) for n, off in enumerate(offs))
    return Backtest("ripe", (), cases)


def job_of(found: Backtest | None, earlier: Backtest | None = None) -> Job[Backtest]:
    job: Job[Backtest] = Job(earlier)
    job.result = found
    return job


def scored(offs: list[int]) -> Any:
    found = counted(backtest_of(offs), View(), date(2030, 1, 1))
    scores = scores_at(found, "30 days after bloom")
    assert scores is not None
    return scores


def test_the_answer_counts_hits_and_the_mean_error() -> None:
    said = sentence(scored([0, 2, -4, 8, 1]))
    assert "3.0 days from the middle" in said
    assert "4 of 5 times (80\u00a0%)" in said


@pytest.mark.parametrize(
    ("offs", "which"),
    [
        ([0] * 16 + [20] * 4, "right"),
        ([0] * 8 + [20] * 2, "few"),
        ([0] * 5 + [20] * 15, "narrow"),
        ([0] * 20, "wide"),
    ],
)
def test_what_can_be_concluded_follows_the_binomial(offs: list[int], which: str) -> None:
    """The bounds are the central 95 % of the binomial distribution, as scipy has it."""
    scores = scored(offs)
    wide = shares(scores)[1]
    low, high = binom.ppf([0.025, 0.975], len(offs), 0.8) / len(offs)
    assert (wide.low, wide.high) == pytest.approx((low, high))
    assert sure(wide, scores.seasons) == which
    assert f"{wide.low:.0%}".replace("%", "\u00a0%") in conclusion(scores)


def test_the_text_on_twenty_seasons_is_true() -> None:
    assert tuple(binom.ppf([0.025, 0.975], 20, 0.8)) == (12, 19)
    assert "12 to 19" in words.CONCLUDE[0]


@pytest.mark.parametrize(
    ("event", "errors"),
    [
        # Ruml & Milatovic 2021, Acta Hortic. 1308:89-92; Marra et al. 2002, Acta Hortic. 592.
        ("ripe", ["5.0, 4.2 and 2.7 days", "1308", "1 day for early to 4 days for late", "592"]),
        # Drepper et al. 2020, Agronomy 10:73; Scientia Horticulturae 2017 (RMSE 3.02 d).
        ("full bloom", ["5.0 days", "Agronomy 10:73", "3.0 days", "Scientia Horticulturae"]),
    ],
)
def test_published_errors_stand_beside_with_their_sources(
    event: EventName, errors: list[str]
) -> None:
    those = counted(replace(backtest_of([0] * 10), event=event), View(), date(2030, 1, 1))
    told = str(as_json(page.found(those, "30", date(2030, 1, 1), earlier=False)))
    assert words.PUBLISHED_TITLE in told
    assert all(error in told for error in errors)
    other = next(each for each in words.PUBLISHED if each != event)
    assert words.PUBLISHED[other][0] not in told


def test_only_what_had_come_by_the_date_counts() -> None:
    found = backtest_of([0] * 10)
    some = counted(found, View(), date(1995, 8, 20))
    assert [each.said.season for each in some.cases] == list(range(1990, 1996))
    assert counted(found, View(site="Elsewhere"), date(2030, 1, 1)).cases == ()


def test_a_lead_in_the_address_that_is_none_is_the_usual_one() -> None:
    assert lead_of(View().choosing(lead="03-15")) == "03-15"
    assert event_of("03-15") == "full bloom"
    assert lead_of(View().choosing(lead="soon")) == "30"
    assert leads_of("45") == ["45", "0", "15", "30", "60"]


def test_leads_are_put_together_in_their_order_as_they_end() -> None:
    jobs = {lead: job_of(None) for lead in leads_of("30")}
    assert known_of("30", jobs).backtest is None
    jobs["30"] = job_of(backtest_of([0, 1, 2]))
    jobs["0"] = job_of(backtest_of([5, 6, 7], Lead(0)))
    known = known_of("30", jobs)
    assert known.running
    assert known.ended == 2
    assert known.backtest is not None
    told = counted(known.backtest, View(), date(2030, 1, 1))
    assert [each.lead for each in told.leads] == ["at bloom", "30 days after bloom"]


def test_while_it_is_renewed_what_was_before_is_shown_and_said_to_be() -> None:
    jobs = {lead: job_of(None) for lead in RIPE_LEADS}
    jobs["30"] = job_of(None, earlier=backtest_of([0, 1, 2]))
    known = known_of("30", jobs)
    assert known.renewing
    assert words.RENEWING in all_text(as_json(content(known, View(), date(2030, 1, 1))))


def test_figures_draw_what_the_scores_say() -> None:
    scores = scored([0, 2, -4, 8, 1])
    dots = next(trace for trace in ranges_figure(shares(scores)).data if trace.name == "dots")
    assert list(dots.x) == pytest.approx([3 / 5, 4 / 5])
    found = counted(backtest_of([0, 2, -4, 8, 1]), View(), date(2030, 1, 1))
    points = found.reliability("30 days after bloom")
    share = next(trace for trace in reliability_figure(points).data if trace.name == "share")
    assert list(share.x) == list(QUANTILES)
    assert list(share.y) == pytest.approx([0, 0, 1 / 5, 2 / 5, 4 / 5, 4 / 5, 1])
    error = next(trace for trace in error_figure(found.leads).data if trace.name == "dots")
    assert list(error.x) == pytest.approx([3.0])
    skill = next(trace for trace in skill_figure(scores).data if trace.name == "skill")
    crps = np.mean([abs(off) * 0.7 + 0.5 for off in (0, 2, -4, 8, 1)])
    assert list(skill.x) == pytest.approx([1 - crps / 4.0], abs=1e-3)


def test_the_table_has_every_lead_and_skill() -> None:
    found = counted(backtest_of([0, 2, -4, 8, 1]), View(), date(2030, 1, 1))
    (row,) = table_rows(found, words.SKILL_COLUMNS)
    assert set(row) == set(words.COLUMNS)
    assert row["hits80"] == "4 of 5"
    assert row["skill_last"] == ""


def test_work_is_done_once_and_anew_when_its_key_changes() -> None:
    background, go = Background(), Event()
    calls: list[str] = []

    def work(name: str) -> Any:
        def run(told: Any) -> str:
            told(1, 2)
            go.wait(10)
            calls.append(name)
            return name

        return run

    first = background.job("a", 1, work("old"))
    assert background.job("a", 2, work("new")) is first, "one at a time"
    go.set()
    _wait(first)
    assert background.job("a", 1, work("old")) is first
    second = background.job("a", 2, work("new"))
    assert second.earlier == "old"
    _wait(second)
    assert calls == ["old", "new"]


def test_what_fails_is_told() -> None:
    def fail(_: Any) -> str:
        raise ValueError("no such thing")

    job = Background().job("a", 1, fail)
    _wait(job)
    known = replace(known_of("30", {"30": job_of(None)}), error=job.error)
    said = all_text(as_json(content(known, View(), date(2030, 1, 1))))
    assert "no such thing" in said


def _wait(job: Job[Any]) -> None:
    until = time.monotonic() + 120
    while job.running and time.monotonic() < until:
        time.sleep(0.02)
    assert not job.running


def test_the_page_fills_in_by_itself(hostile: Orchard) -> None:
    day = date(2026, 8, 12)
    page = Client(app_of(hostile)).page("/how-sure")
    assert "forecast anew" in all_text(page)
    source = Source(hostile, lambda: day)
    until = time.monotonic() + 300
    made, asked, ended = further(source, "", 0)
    while not ended and time.monotonic() < until:
        time.sleep(0.1)
        made, asked, ended = further(source, "", -1)
    assert ended
    assert asked == ["", len(RIPE_LEADS)]
    said = all_text(as_json(made))
    assert "Forecast 30 days after bloom, the fruit came ripe" in said
    assert "too few to show" in said or "wider than" in said or "too narrow" in said
    assert further(source, "", len(RIPE_LEADS))[2]
