from __future__ import annotations

import csv
import io
import sqlite3
import zipfile
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from dashboard import words
from dashboard.pages import settings as page
from dashboard.source import Source
from dashboard.taking_out import BACKUP, EXPORT_CSV, EXPORT_XLSX
from dashboard.texts import settings as texts
from dashboard.ways import ways_of
from dashboard.words import US, Ways
from harvest.errors import InputError
from harvest.service import open_orchard
from harvest.service_records import Signature
from harvest.service_settings import Settings, change_settings, read_settings, setting_changes
from harvest.store.orchard import Orchard
from tests.dashboard.client import Client, all_text, app_of, find
from tests.dashboard.made_up import AS_OF
from tests.orchards import plant

INES = Signature("Ines", datetime(2026, 8, 12, 9, tzinfo=UTC))


@pytest.fixture
def orchard(sqlite_address: str, tmp_path: Path) -> Iterator[Orchard]:
    opened = open_orchard(sqlite_address)
    plant(opened, tmp_path)
    yield opened
    opened.engine.dispose()


@pytest.fixture
def us() -> Iterator[None]:
    token = words.WAYS.set(Ways(US, words.MONTH_FIRST, 0))
    yield
    words.WAYS.reset(token)


def test_settings_are_kept_with_who_when_and_what_was_before(orchard: Orchard) -> None:
    assert read_settings(orchard) == Settings()
    change_settings(orchard, {"units": "us", "kept_as": "  The  Smiths "}, INES)
    change_settings(orchard, {"units": "us"}, INES)
    assert read_settings(orchard) == Settings(units="us", kept_as="The Smiths")
    told = setting_changes(orchard)
    assert [(each.name, each.before, each.after, each.who) for each in told] == [
        ("kept_as", "", "The Smiths", "Ines"),
        ("units", "metric", "us", "Ines"),
    ]
    assert told[0].at == INES.at
    assert page.told(told[1]) == (
        "12 August 2026, Ines: Units, from “Metric: kg, °C” to “US: lb, °F”"
    )


@pytest.mark.parametrize("chosen", [{"units": "stone"}, {"colour": "red"}, {"kept_as": "a\u202eb"}])
def test_what_cannot_be_chosen_changes_nothing(orchard: Orchard, chosen: dict[str, str]) -> None:
    with pytest.raises(InputError):
        change_settings(orchard, {"dates": "year first", **chosen}, INES)
    assert read_settings(orchard) == Settings()


def test_a_choice_shows_on_every_page_at_once(orchard: Orchard) -> None:
    client = Client(app_of(orchard))
    before = all_text(find(client.page("/settings"), "answer"))
    assert "kilograms, dates like 12 August 2026, and weeks begin on Monday" in before
    source = Source(orchard, lambda: AS_OF)
    assert page.save(source, ("us", "month first", "sunday", "The Smiths")) == texts.SAVED
    after = all_text(find(client.page("/settings"), "answer"))
    assert "pounds, dates like August 12, 2026, and weeks begin on Sunday" in after
    assert "kept under the name The Smiths" in after
    field = find(client.json("_dash-layout"), "as-of")["props"]
    assert (field["firstDayOfWeek"], field["valueFormat"]) == (0, "MMMM D, YYYY")


def test_first_days_are_numbered_from_sunday() -> None:
    assert ways_of(Settings(week_starts="monday")).first_day == 1
    assert ways_of(Settings(week_starts="saturday")).first_day == 6


def test_dates_with_the_month_first(us: None) -> None:
    assert words.day(date(2026, 8, 12)) == "August 12, 2026"
    assert words.day(date(2026, 8, 12), near=date(2026, 1, 1)) == "August 12"
    assert words.short_day(date(2026, 8, 12)) == "Aug 12"
    assert words.span(date(2026, 8, 10), date(2026, 8, 16)) == "August 10 to 16, 2026"
    assert words.span(date(2026, 8, 31), date(2026, 9, 6), date(2026, 1, 1)) == (
        "August 31 to September 6"
    )
    assert words.short_span(date(2026, 8, 10), date(2026, 8, 16)) == "Aug 10–16"


def test_dates_of_iso_8601() -> None:
    token = words.WAYS.set(Ways(dates=words.YEAR_FIRST))
    assert words.day(date(2026, 8, 12)) == "2026-08-12"
    assert words.span(date(2026, 8, 10), date(2026, 8, 16)) == "2026-08-10 to 2026-08-16"
    words.WAYS.reset(token)


def test_everything_on_record_can_be_taken_away(orchard: Orchard, tmp_path: Path) -> None:
    browser = app_of(orchard).server.test_client()
    answer = browser.get(f"/{EXPORT_CSV}")
    assert "attachment" in answer.headers["Content-Disposition"]
    packed = zipfile.ZipFile(io.BytesIO(answer.data))
    trees = list(csv.DictReader(io.StringIO(packed.read("trees.csv").decode("utf-8-sig"))))
    known = Source(orchard, lambda: AS_OF).overview(AS_OF).trees["tree"]
    assert {row["tree"] for row in trees} == set(known)
    assert not any("people" in name for name in packed.namelist())
    sheets = zipfile.ZipFile(io.BytesIO(browser.get(f"/{EXPORT_XLSX}").data))
    assert "trees.xlsx" in sheets.namelist()
    copy = tmp_path / "copy.sqlite"
    copy.write_bytes(browser.get(f"/{BACKUP}").data)
    with sqlite3.connect(copy) as connection:
        (number,) = connection.execute("SELECT count(*) FROM trees").fetchone()
    connection.close()
    assert number == len(known)
