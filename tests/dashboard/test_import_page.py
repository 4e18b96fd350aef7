from __future__ import annotations

import base64
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from plotly.utils import PlotlyJSONEncoder

from dashboard.data import InputError, history, undo_batch
from dashboard.pages import import_page as page
from dashboard.source import Source
from dashboard.texts import import_page as texts
from harvest.errors import FileFormatError
from harvest.service import open_orchard
from harvest.service_imports import guess_columns, guess_kind, loose_columns
from harvest.service_records import Signature
from harvest.store.orchard import Orchard
from harvest.store.reading import count_kinds
from tests.dashboard.client import all_text, ids_of
from tests.dashboard.made_up import AS_OF
from tests.orchards import plant


@pytest.fixture
def source(sqlite_address: str, tmp_path: Path) -> Iterator[Source]:
    opened: Orchard = open_orchard(sqlite_address)
    plant(opened, tmp_path)
    yield Source(opened, lambda: AS_OF)
    opened.engine.dispose()


def held(text: str, name: str = "picks.csv") -> dict[str, str]:
    """A file as the browser holds it."""
    content = base64.b64encode(text.encode()).decode()
    return {"name": name, "content": f"data:text/csv;base64,{content}"}


def as_json(parts: Any) -> Any:
    return json.loads(json.dumps(parts, cls=PlotlyJSONEncoder))


def file_of(source: Source) -> dict[str, str]:
    first, second = source.overview(AS_OF).trees["tree"].iloc[:2]
    return held(
        "Which,When picked,Weight (lb),colour\n"
        f"{first},2026-08-11,10,red\n{second},2026-08-40,3,red\nNobody,2026-08-10,3,\n"
    )


COLUMNS = {"Which": "tree", "When picked": "date", "Weight (lb)": "weight_lb", "colour": ""}


@pytest.mark.parametrize(
    ("header", "kind"),
    [
        (["site", "lat", "lon"], "sites"),
        (["tree", "site", "species", "variety", "planted"], "trees"),
        (["Tree", "Date", "kg", "last"], "picks"),
        (["tree", "date", "bbch"], "stages"),
        (["tree", "date", "girth_cm"], "girths"),
        (["site", "date", "tmin_c", "tmax_c"], "weather"),
        (["tree", "date", "product", "withholding_days"], "sprays"),
    ],
)
def test_the_kind_is_guessed_from_the_header(header: list[str], kind: str) -> None:
    assert guess_kind(header) == kind


def test_columns_are_guessed_with_their_unit() -> None:
    guessed = guess_columns("picks", ["Tree", "day", "Weight (lb)", "lbs", "colour"])
    assert guessed == {"Tree": "tree", "day": "date", "Weight (lb)": "weight_lb", "lbs": "",
                       "colour": ""}  # fmt: skip


def test_what_was_understood_is_shown_with_a_choice_for_each_column(source: Source) -> None:
    parts = as_json(page.understood(file_of(source), None))
    said = json.dumps(parts, ensure_ascii=False)
    assert "picks.csv: 3 rows with 4 columns." in all_text(parts)
    assert "“When picked”, for instance “2026-08-11”" in said
    assert page.KIND in ids_of(parts)
    weather = as_json(page.understood(file_of(source), "weather"))
    assert "looks like weather" in all_text(weather)


def test_a_preview_keeps_nothing_and_lists_what_is_refused(source: Source) -> None:
    before, number = count_kinds(source.orchard), len(history(source.orchard))
    report = page.tried(source, file_of(source), ("picks", COLUMNS, None), dry_run=True)
    assert (report.new, report.same, report.changed) == (1, 0, 0)
    assert [(each.line, each.column, each.value) for each in report.refused] == [
        (3, "date", "2026-08-40"),
        (4, "tree", "Nobody"),
    ]
    shown = json.dumps(as_json(page.preview(report, ["colour"])), ensure_ascii=False)
    assert "no such day in the calendar" in shown
    assert texts.IGNORED.format(columns="colour") in shown
    assert count_kinds(source.orchard) == before
    assert len(history(source.orchard)) == number


def test_an_import_is_kept_and_taken_back_as_a_whole(source: Source) -> None:
    before = count_kinds(source.orchard)
    chosen = ("picks", COLUMNS, None)
    report = page.tried(source, file_of(source), chosen, dry_run=False)
    assert report.batch is not None
    # The pound is 0.45359237 kg by definition.
    weight = source.records(AS_OF).picks["weight_kg"].iloc[0]
    assert weight == pytest.approx(10 * 0.45359237, abs=0.001)
    again = page.tried(source, file_of(source), chosen, dry_run=True)
    assert (again.new, again.same) == (0, 1)
    undo_batch(source.orchard, report.batch, Signature("Ines", None))
    assert count_kinds(source.orchard) == before


def test_a_notebooks_table_is_taken_in_by_season(source: Source) -> None:
    tree = source.overview(AS_OF).trees["tree"].iloc[0]
    loose = held(f"tree,2023,2024\n{tree},11,12.5\n", "notebook.csv")
    assert loose_columns(["tree", "2023", "2024/25", "2025-09-01", "note"]) == [
        "2023", "2024/25", "2025-09-01",
    ]  # fmt: skip
    layout = page.layout_of("weight_kg", "09-15", "")
    report = page.tried(source, loose, ("picks", {}, layout), dry_run=True)
    assert (report.new, len(report.refused)) == (2, 0)
    stages = page.layout_of("date", "", "bbch=65, note=from a notebook")
    assert stages is not None
    assert dict(stages.always) == {"bbch": "65", "note": "from a notebook"}


def test_two_columns_cannot_be_one(source: Source) -> None:
    twice = {**COLUMNS, "colour": "tree"}
    with pytest.raises(InputError, match="one column of the file"):
        page.tried(source, file_of(source), ("picks", twice, None), dry_run=True)
    with pytest.raises(InputError, match="must be one of"):
        page.tried(source, file_of(source), ("picks", {"Which": "id"}, None), dry_run=True)


@pytest.mark.parametrize("content", ["data:text/csv;base64,%%%", ""])
def test_what_is_no_table_is_told(source: Source, content: str) -> None:
    with pytest.raises((FileFormatError, InputError)):
        page.understood({"name": "../../x.csv", "content": content}, None)


def test_a_file_of_the_largest_size_passes_the_door() -> None:
    assert page.MOST_MB * 1024**2 * 4 / 3 < 16 * 1024**2
