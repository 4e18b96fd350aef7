"""A notebook's loose table, read once the person says what it holds."""

from __future__ import annotations

from pathlib import Path

import pytest

from harvest.errors import FileFormatError, InputError
from harvest.service_records import judge
from harvest.store.importing import ImportReport, import_file
from harvest.store.notebook import Layout
from harvest.store.orchard import Orchard
from harvest.store.reading import read_kind
from tests.orchards import TODAY, plant


@pytest.fixture
def planted(orchard: Orchard, tmp_path: Path) -> Orchard:
    plant(orchard, tmp_path)
    return orchard


def take(orchard: Orchard, folder: Path, kind: str, text: str, layout: Layout) -> ImportReport:
    path = folder / "notebook.csv"
    path.write_text(text, encoding="utf-8")
    return import_file(orchard, kind, path, today=TODAY, layout=layout)


def rows(orchard: Orchard, kind: str, *names: str) -> list[tuple[str, ...]]:
    with orchard.reading() as connection:
        found = read_kind(connection, kind)
    found["date"] = found["date"].dt.strftime("%Y-%m-%d")
    return [tuple(map(str, row)) for row in found[["tree", "date", *names]].to_numpy()]


def test_weights_by_season_are_booked_on_the_day_that_is_said(
    planted: Orchard, tmp_path: Path
) -> None:
    text = "Our trees,2023,2024,2025\nApple 1,10,12.5,\nApple 2,–,8,0\n"
    report = take(planted, tmp_path, "picks", text, Layout("weight_kg", on="09-15"))
    assert (report.new, report.refused) == (4, ())
    assert rows(planted, "picks", "weight_kg") == [
        ("Apple 1", "2023-09-15", "10.0"), ("Apple 1", "2024-09-15", "12.5"),
        ("Apple 2", "2024-09-15", "8.0"), ("Apple 2", "2025-09-15", "0.0"),
    ]  # fmt: skip
    again = take(planted, tmp_path, "picks", text, Layout("weight_kg", on="09-15"))
    assert (again.new, again.same) == (0, 4)


def test_a_southern_season_spans_new_year(planted: Orchard, tmp_path: Path) -> None:
    text = "tree,2024/25,2026\nPeach,5,6\n"
    assert take(planted, tmp_path, "picks", text, Layout("weight_kg", on="02-10")).new == 2
    assert [row[1] for row in rows(planted, "picks")] == ["2025-02-10", "2026-02-10"]
    text = "tree,2024/25\nPeach,5\n"
    assert take(planted, tmp_path, "picks", text, Layout("weight_kg", on="12-20")).new == 1
    assert rows(planted, "picks")[0][1] == "2024-12-20"


def test_dates_in_the_header(planted: Orchard, tmp_path: Path) -> None:
    text = "tree,2025-09-01,2025-09-08\nApple 1,3,4\nApple 2,,5\n"
    assert take(planted, tmp_path, "picks", text, Layout("weight_kg")).new == 3
    assert [row[1] for row in rows(planted, "picks")] == ["2025-09-01", "2025-09-08", "2025-09-08"]


def test_dates_of_bloom_in_the_cells(planted: Orchard, tmp_path: Path) -> None:
    text = "tree,2024,2025\nApple 1,2024-04-25,2025-04-28\nApple 2,2024-04-31,\n"
    report = take(planted, tmp_path, "stages", text, Layout("date", always={"bbch": "65"}))
    assert report.new == 2
    (refusal,) = report.refused
    assert (refusal.line, refusal.column, refusal.value) == (3, "2024", "2024-04-31")
    assert rows(planted, "stages", "bbch") == [
        ("Apple 1", "2024-04-25", "65.0"), ("Apple 1", "2025-04-28", "65.0"),
    ]  # fmt: skip


def test_a_cell_that_is_refused_holds_back_no_other_of_its_line(
    planted: Orchard, tmp_path: Path
) -> None:
    text = "tree,2023,2024\nNobody,1,2\nApple 1,lots,12\nApple 2,3,-1\n"
    report = take(planted, tmp_path, "picks", text, Layout("weight_kg", on="09-15"))
    assert (report.read, report.new) == (6, 2)
    assert [(r.line, r.column, r.value) for r in report.refused] == [
        (2, "tree", "Nobody"), (2, "tree", "Nobody"), (3, "2023", "lots"), (4, "2024", "-1"),
    ]  # fmt: skip
    assert [row[:2] for row in rows(planted, "picks")] == [
        ("Apple 1", "2024-09-15"), ("Apple 2", "2023-09-15"),
    ]  # fmt: skip


def test_a_column_that_is_neither_season_nor_date_is_named_never_dropped_unseen(
    planted: Orchard, tmp_path: Path
) -> None:
    text = "Baum,2025-09-01,08.09.2025,Summe,Leer\nApple 1,3,4,7,\nApple 2,,5,5,,9\n"
    report = take(planted, tmp_path, "picks", text, Layout("weight_kg"))
    assert report.new == 1
    assert report.ignored_columns == ("08.09.2025", "Summe", "cells beyond the last column")


def test_what_looks_wrong_in_a_loose_table_is_told_by_its_line(
    planted: Orchard, tmp_path: Path
) -> None:
    path = tmp_path / "notebook.csv"
    path.write_text("tree,2023,2024\nApple 2,1,2\nApple 1,3,130\n", encoding="utf-8")
    said = import_file(
        planted, "picks", path, today=TODAY, layout=Layout("weight_kg", on="09-15"), judge=judge
    )
    (warning,) = said.warnings
    assert (warning.line, warning.value) == (3, "Apple 1")
    assert warning.rule == "ten times the tree's best"


@pytest.mark.parametrize(
    ("kind", "text", "layout", "error", "message"),
    [
        ("stages", "tree,2024\nApple 1,2024-05-01\n", Layout("date"), InputError,
         r"each cell needs its bbch too; .* --always bbch="),
        ("picks", "tree,2024\nApple 1,3\n", Layout("weight_kg"), InputError, "need a day"),
        ("picks", "tree,note\nApple 1,3\n", Layout("weight_kg"), FileFormatError, "seasons"),
        ("picks", "tree,2024\nApple 1,3\n", Layout("kilos", on="09-15"), InputError,
         "must be a column of picks; given: 'kilos'"),
        ("picks", "tree,2024\nApple 1,3\n", Layout("weight_kg", on="15.9."), InputError, "MM-DD"),
        ("weather", "tree,2024\nApple 1,3\n", Layout("tmin_c", on="09-15"), InputError,
         "holds records of trees"),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_told(
    planted: Orchard,
    tmp_path: Path,
    kind: str,
    text: str,
    layout: Layout,
    error: type[Exception],
    message: str,
) -> None:
    with pytest.raises(error, match=message):
        take(planted, tmp_path, kind, text, layout)
