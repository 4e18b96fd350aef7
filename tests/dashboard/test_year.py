from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from dash import no_update
from plotly.utils import PlotlyJSONEncoder

from dashboard.address import View
from dashboard.figures.year import year_figure
from dashboard.measures import retold
from dashboard.pages import this_week, year
from dashboard.pages.last_spray import section
from dashboard.pages.marking import act
from dashboard.pages.year_adding import adding
from dashboard.source import Source
from dashboard.texts import year as words
from dashboard.views.year import (
    by_month,
    held_now,
    held_of,
    next_due,
    off_of,
    passing,
    rows_of,
)
from dashboard.words import MONTH_FIRST, US, WAYS, Ways
from harvest.care.texts import LABEL_IS_LAW, SPRAY_CAUTIONS
from harvest.store.history_reading import read_batches
from harvest.store.orchard import Orchard, open_orchard
from tests.care.strict_calendar import read_calendar
from tests.dashboard.client import Client, all_text, app_of
from tests.dashboard.made_up import AS_OF


@pytest.fixture
def source(demo: Orchard, tmp_path: Path) -> Iterator[Source]:
    """A demo orchard of the test's own, to mark in."""
    path = tmp_path / "marked.sqlite"
    shutil.copyfile(str(demo.engine.url.database), path)
    orchard = open_orchard(str(path))
    yield Source(orchard, lambda: AS_OF, AS_OF)
    orchard.engine.dispose()


def text_of(made: object) -> str:
    return all_text(json.loads(json.dumps(made, cls=PlotlyJSONEncoder)))


def test_done_is_kept_shown_told_in_the_history_and_taken_back(source: Source) -> None:
    task = next(task for task in source.week(AS_OF) if task.code is not None)
    assert task.code is not None
    outcome = act(source, "done", task.code, AS_OF)
    assert outcome.words.startswith("Marked as done: ")
    assert outcome.batch == read_batches(source.orchard, 1)[0].number
    assert task.code not in {each.code for each in source.week(AS_OF)}
    item = next(each for each in source.calendar(AS_OF).items if each.code == task.code)
    assert item.status == "done"
    assert act(source, "undo", str(outcome.batch), AS_OF).words == "Taken back."
    assert task.code in {each.code for each in source.week(AS_OF)}


def test_putting_off_switching_off_and_on_again(source: Source) -> None:
    item = next(
        each for each in source.calendar(AS_OF).items
        if each.status == "open" and each.first_day > AS_OF
    )  # fmt: skip
    act(source, "later", item.code, AS_OF)
    moved = next(each for each in source.calendar(AS_OF).items if each.uid == item.uid)
    assert moved.moved
    assert moved.first_day == item.first_day + timedelta(days=7)
    target = f"{item.item}@{item.site}".casefold()
    act(source, "off_kind", f"{item.item}@{item.site}", AS_OF)
    assert source.switched_off(AS_OF) == [target]
    kinds = {(each.item, each.site) for each in source.calendar(AS_OF).items}
    assert (item.item, item.site) not in kinds
    assert act(source, "on", target, AS_OF).batch is not None
    assert source.switched_off(AS_OF) == []


def test_what_cannot_be_marked_is_said(source: Source) -> None:
    assert act(source, "done", "no such code", AS_OF).words.startswith("Not kept: ")
    assert act(source, "undo", "99999", AS_OF).words.startswith("Not kept: ")
    assert read_batches(source.orchard, 1)[0].action != "mark"


def test_an_item_of_ones_own_is_added_in_words_and_refused_in_words(source: Source) -> None:
    gate = {"site": "Quernwell", "title": "Mend the gate", "first": "2026-08-20", "why": "It sags"}
    assert adding(source, gate, AS_OF).words == "Added: Mend the gate (Quernwell)."
    assert "Mend the gate" in text_of(year.body(source, View()))
    assert adding(source, {"site": "Quernwell", "title": ""}, AS_OF).words == words.ADD_NEEDS
    assert adding(source, {**gate, "sum": 250}, AS_OF).words == words.ADD_EITHER
    assert adding(source, {**gate, "first": None, "sum": 250}, AS_OF).words == words.ADD_HEAT_NEEDS
    assert adding(source, {**gate, "last": "2026-08-01"}, AS_OF).words.startswith("Not kept: ")


def test_an_item_by_degree_days_is_read_in_the_units_chosen_and_foretold(source: Source) -> None:
    """5400 degree days F over 32 degF are 3000 degree days C over 0 degC (a factor of 1.8)."""
    token = WAYS.set(Ways(US, MONTH_FIRST))
    typed = {"site": "Quernwell", "title": "Look for late moths", "what": "Q2-01", "sum": 5400,
             "base": 32, "from": "2026-02-01"}  # fmt: skip
    said = adding(source, typed, AS_OF).words
    told = text_of(year.body(source, View(site="Quernwell")))
    WAYS.reset(token)
    assert said == "Added: Look for late moths (Q2-01, Quernwell)."
    item = next(each for each in source.calendar(AS_OF).items if each.title.endswith("late moths"))
    assert AS_OF < item.earliest < item.first_day < item.latest
    assert item.trees == ("Q2-01",)
    assert "Due at 3000 degree days." in item.notes
    assert "Due at 5400 degree days." in told


def test_the_year_shows_both_halves_of_the_world_with_source_and_reason(source: Source) -> None:
    items = passing(source.calendar(AS_OF).items, source.withholding(AS_OF), View(), AS_OF)
    pruning = {each.site: each.first_day.month for each in items if each.item == "winter pruning"}
    assert (pruning["Quernwell"] - pruning["Saltpan Reach"]) % 12 in range(4, 9)
    assert all(each.source and each.todo for each in items)
    months = by_month(items, AS_OF)
    assert [month for month, _ in months] == sorted(month for month, _ in months)
    assert sum(len(own) for _, own in months) == len(items)
    due = next_due(items, AS_OF)
    assert due is not None
    assert due.last_day >= AS_OF


def test_one_trees_year_is_its_own(source: Source) -> None:
    for site, title in (("Quernwell", "Mend the gate"), ("Saltpan Reach", "Mend the pump")):
        adding(source, {"site": site, "title": title, "first": "2026-08-20"}, AS_OF)
    view = View().choosing(tree="Q2-01")
    one = passing(source.calendar(AS_OF).items, source.withholding(AS_OF), view, AS_OF)
    assert [each.title for each in one if not each.trees] == ["Mend the gate"]
    assert all("Q2-01" in each.trees for each in one if each.trees)
    assert {"Pick", "Watch the buds", "Look for codling moth: traps out"} <= {
        each.title for each in one
    }
    assert text_of(year.body(source, view)).startswith("From 12 August 2026, for Q2-01: ")


def test_a_tree_is_chosen_by_the_address_and_its_file_is_its_own(source: Source) -> None:
    page = text_of(year.render(source, View(cultivar="Discovery").choosing(tree="Q2-01")))
    assert ", for Q2-01: " in page
    view = View(site="Quernwell")
    assert year.choosing("Q2-01", view) == "?site=Quernwell&tree=Q2-01"
    assert year.choosing(None, view.choosing(tree="Q2-01")) == "?site=Quernwell"
    assert year.choosing("Q2-01", view.choosing(tree="Q2-01")) is no_update
    every = read_calendar(source.calendar_file(AS_OF, None))
    one = read_calendar(source.calendar_file(AS_OF, None, "Q2-01"))
    assert 0 < len(one) < len(every)


def test_an_item_about_fruit_that_may_not_be_picked_says_so_at_once(source: Source) -> None:
    """Q2-01 stands under an application whose label nobody read; Q1-02 does not."""
    items = source.calendar(AS_OF).items
    held = held_now(source.withholding(AS_OF))
    picks = [each for each in items if each.item == "picking" and each.last_day >= AS_OF]
    now = {tree for each in picks for tree in held_of(each, held, AS_OF)}
    assert "Q2-01" in now
    assert "Q1-02" not in now
    assert not any(
        held_of(each, held, AS_OF) for each in picks if each.first_day > AS_OF + timedelta(days=60)
    )
    assert "Do not pick or taste yet: Q2-01" in text_of(
        year.body(source, View().choosing(tree="Q2-01"))
    )


def test_the_picture_has_every_item_inside_the_year(source: Source) -> None:
    view = View(site="Quernwell")
    items = passing(source.calendar(AS_OF).items, source.withholding(AS_OF), view, AS_OF)
    figure = year_figure(rows_of(items), AS_OF)
    wide, days, done = (trace for trace in figure.data if trace.type == "bar")
    assert len(wide.y) == len(items) == len(days.y) + len(done.y)
    assert all(length > 0 for trace in (wide, days, done) for length in trace.x)


def test_the_file_is_a_calendar_that_strict_readers_take(source: Source) -> None:
    content = source.calendar_file(AS_OF, "Quernwell")
    assert read_calendar(content)


def test_the_file_speaks_the_units_and_dates_chosen(source: Source) -> None:
    token = WAYS.set(Ways(US, MONTH_FIRST))
    said = source.calendar_file(AS_OF, None, told=retold).decode().replace("\r\n ", "")
    WAYS.reset(token)
    assert "8 in 10: between Aug" in said
    told = [line for line in said.splitlines() if line.startswith(("DESCRIPTION", "SUMMARY"))]
    assert not re.findall(r"°C|\bkg\b|\bcm\b|\d{1,2} Aug\b", " ".join(told))


def test_what_is_off_is_told_in_words() -> None:
    assert (off_of("frost watch@north").kind, off_of("frost watch@north").site) == (
        "frost watch", "north",
    )  # fmt: skip
    assert off_of("6f0a3f54-2a3b-5d0e-9a63-6b0f6a3f2c11").single


def test_tasks_of_labels_have_no_buttons_and_a_day_before_which(source: Source) -> None:
    held = [task for task in source.week(AS_OF) if task.title == "Do not pick"]
    assert held
    assert all(task.code is None and task.by is None for task in held)
    said = text_of(this_week.body(source, View()))
    assert "not before" in said
    assert LABEL_IS_LAW in said


def test_the_last_day_counts_from_what_was_typed_and_only_that(source: Source) -> None:
    asked = View().choosing(product="Invented soap", label_days="7")
    said = text_of(section(source, asked, AS_OF))
    assert "as you gave it" in said
    assert "still a chance of 5 % that the fruit is ripe before the period ends" in said
    assert "no advice to spray" in said
    bad = text_of(section(source, View().choosing(product="Soap", label_days="soon"), AS_OF))
    assert "whole number from 0 to 730" in bad
    assert "Last day for" not in text_of(section(source, View(), AS_OF))


def test_the_page_of_waiting_periods_has_the_last_day_and_every_caution(demo: Orchard) -> None:
    page = Client(app_of(demo)).page("/may-i-pick", "?product=Invented+soap&label_days=7")
    said = all_text(page)
    for caution in SPRAY_CAUTIONS:
        assert caution in said
    assert "Last day for Invented soap" in said
    assert "No day is left for Q1-02" in said
    assert date(2026, 8, 12) == AS_OF


def test_a_very_full_month_tells_its_first_items_all_that_were_added_and_how_many_more(
    source: Source, monkeypatch: pytest.MonkeyPatch
) -> None:
    adding(source, {"site": "Quernwell", "title": "Mend the gate", "first": "2026-08-20"}, AS_OF)
    monkeypatch.setattr(year, "MOST_OF_A_MONTH", 3)
    items = passing(source.calendar(AS_OF).items, source.withholding(AS_OF), View(), AS_OF)
    told = text_of(year.body(source, View()))
    assert "Mend the gate" in told
    august = dict(by_month(items, AS_OF))[date(2026, 8, 1)]
    left = len(august) - 3 - (0 if any(each.added for each in august[:3]) else 1)
    assert words.MORE_ITEMS.format(count=left) in told
