"""An orchard written as a folder and taken in elsewhere is the same orchard."""

from __future__ import annotations

import csv
import json
import shutil
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest
from frictionless import Package
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import insert, select, update

from harvest.errors import FileFormatError, InputError
from harvest.records import KINDS
from harvest.store.about import About, write_about
from harvest.store.attaching import attach, attachment_bytes, attachments
from harvest.store.attachment_tables import attachment_cells
from harvest.store.editing import show_records
from harvest.store.exporting import export_folder
from harvest.store.history import Signature, batch
from harvest.store.importing_folder import import_folder
from harvest.store.orchard import Orchard, open_orchard
from harvest.store.plain_tables import PLAIN_TABLES, rows_of
from harvest.store.reading import count_kinds, read_kind
from harvest.store.schema import (
    CALENDAR_MARKS,
    DISMISSED,
    EXPERIENCE,
    TABLES,
    WEATHER_SOURCES,
)
from harvest.store.spreadsheet import neutralised, restored
from harvest.store.undoing import undo
from harvest.store.weather_hours import save_gap_rules, save_hours
from harvest.store.weather_writing import save_ahead, save_source, save_stations
from harvest.weather.daily import DayHours
from tests.orchards import TODAY, put

ADA = Signature("Ada", datetime(2026, 8, 12, 6, 30, tzinfo=UTC))


HUNG_ON = ("sites", "trees", "stages", "picks", "sprays", "events")


@pytest.fixture
def elsewhere(sqlite_template: Path, tmp_path: Path) -> Orchard:
    """Another, empty orchard."""
    return open_orchard(str(shutil.copyfile(sqlite_template, tmp_path / "elsewhere.sqlite")))


@pytest.fixture
def full(filled: Orchard, tmp_path: Path) -> Orchard:
    """Every kind of record, and a row in every other table."""
    days = read_kind_of_weather(filled)
    with filled.writing() as connection, batch(connection, "fetch", ADA) as made:
        save_source(made, 1, "near", "stations", attribution="Met, office", licence="CC BY",
                    fetched_at=datetime(2026, 8, 1, 12, 30), layout={"time": "=x"})  # fmt: skip
        connection.execute(update(WEATHER_SOURCES).values(trust=2))
        save_stations(made, 1, "near", [{"station": "0123", "distance_km": 1.5}])
        save_ahead(made, 1, "near", TODAY.replace(year=2020), days)
        half_a_day = np.where(np.arange(24) < 12, 7.25, np.nan)[None]
        save_hours(made, 1, "near", DayHours(np.datetime64("2026-07-01"), half_a_day))
        save_gap_rules(made, 1, ("interpolate", "climate"))
        connection.execute(update(TABLES["weather"]).values(confirmed=True))
        told = {"orchard": "Theirs", "species": "apple", "cultivar": "Gala", "seasons": 3,
                "trees": 2, "days_mean": 120.5, "first_season": 2020, "last_season": 2022,
                "taken_on": TODAY}  # fmt: skip
        more = {**told, "orchard": "Ours, before", "latitude": -33.5, "days_sd": 4.25}
        connection.execute(insert(EXPERIENCE), {**told, "latitude": None, "days_sd": None})
        connection.execute(insert(EXPERIENCE), more)
        moment = datetime(2026, 8, 1, 12, 30)
        settled = {"rule": "r", "facts": "f, 1", "who": "Ada", "dismissed_at": moment}
        connection.execute(insert(DISMISSED), settled)
        marks = ({"mark": "done", "target": "x", "marked_on": TODAY, "site_id": 1},
                 {"mark": "off", "target": "y", "marked_on": TODAY, "site_id": None})  # fmt: skip
        connection.execute(insert(CALENDAR_MARKS), list(marks))
    write_about(filled, About(name="Ours", note="=1+1"))
    for kind in HUNG_ON:
        for shown in show_records(filled, kind):
            attach(filled, kind, shown.id, f"=a{shown.id}.txt", f"{kind} {shown.id}".encode(),
                   signed=ADA, today=TODAY, note="+1")  # fmt: skip
    return filled


def read_kind_of_weather(orchard: Orchard) -> Any:
    with orchard.reading() as connection:
        days = read_kind(connection, "weather")
    return days.assign(
        date=days["date"].astype("datetime64[s]")
        + (TODAY.replace(year=2021) - days["date"].min().date())
    )


def content(orchard: Orchard) -> dict[str, list[list[str]]]:
    """Every record and every other row, without their ids."""
    with orchard.reading() as connection:
        found = {kind: read_kind(connection, kind).astype(str).to_numpy().tolist()
                 for kind in KINDS}  # fmt: skip
        found |= {n: [list(map(str, r)) for r in rows_of(connection, t)]
                  for n, t in PLAIN_TABLES.items()}  # fmt: skip
        found["attachments"] = sorted(attachment_cells(connection))
    for each in attachments(orchard):
        found["attachments"].append([attachment_bytes(orchard, each.sha256).decode()])
    found["attachments"].sort()
    return found


@pytest.mark.parametrize("xlsx", [False, True])
def test_what_is_exported_rebuilds_the_orchard(
    full: Orchard, elsewhere: Orchard, tmp_path: Path, xlsx: bool
) -> None:
    done = export_folder(full, tmp_path / "out", xlsx=xlsx)
    assert [each.file for each in done if not each.records] == []
    assert {each.file.partition(".")[0] for each in done} == {
        *KINDS, *PLAIN_TABLES, "attachments",
    }  # fmt: skip
    report = import_folder(elsewhere, tmp_path / "out", today=TODAY, signed=ADA)
    assert [kind.refused for kind in report.kinds if kind.refused] == []
    assert content(elsewhere) == content(full)
    again = import_folder(elsewhere, tmp_path / "out", today=TODAY, signed=ADA)
    assert again.batch is None
    assert all(kind.new + kind.changed == 0 for kind in again.kinds)
    assert all(table.new == 0 for table in again.tables)


def test_records_of_another_orchard_s_tree_never_go_to_one_that_only_shares_its_name(
    full: Orchard, elsewhere: Orchard, tmp_path: Path
) -> None:
    export_folder(full, tmp_path / "out")
    put(elsewhere, "sites", [{"site": "Yard", "latitude": 40, "longitude": 9}], tmp_path)
    own = {"tree": "zoë", "site": "Yard", "species": "fig", "cultivar": "own",
           "planted": "2019-01-15"}  # fmt: skip
    put(elsewhere, "trees", [own], tmp_path)
    report = import_folder(elsewhere, tmp_path / "out", today=TODAY, signed=ADA)
    for each in report.kinds:
        assert all("another tree" in note.reason for note in each.refused), each.refused
    refused = {each.kind: len(each.refused) for each in report.kinds}
    assert refused["trees"] == 1
    assert refused["picks"] > 0
    with elsewhere.reading() as connection:
        for kind in ("picks", "thinnings", "girths"):
            assert "zoë" not in {str(n).casefold() for n in read_kind(connection, kind)["tree"]}
        trees = read_kind(connection, "trees").set_index("tree")
    assert trees.loc["zoë", "species"] == "fig"
    assert attachments(elsewhere, tree="zoë") == []


def test_a_folder_taken_in_is_undone_as_one(
    full: Orchard, elsewhere: Orchard, tmp_path: Path
) -> None:
    export_folder(full, tmp_path / "out")
    trial = import_folder(elsewhere, tmp_path / "out", today=TODAY, signed=ADA, dry_run=True)
    assert trial.batch is None
    assert set(count_kinds(elsewhere).values()) == {0}
    report = import_folder(elsewhere, tmp_path / "out", today=TODAY, signed=ADA)
    assert count_kinds(elsewhere) == count_kinds(full)
    taken_in = content(elsewhere)
    back = undo(elsewhere, report.batch, ADA).by
    assert not any(content(elsewhere).values())
    assert set(count_kinds(elsewhere).values()) == {0}
    undo(elsewhere, back.number, ADA)
    assert content(elsewhere) == taken_in


def test_an_attachment_whose_file_or_record_is_gone_is_refused_and_the_others_go_in(
    full: Orchard, elsewhere: Orchard, tmp_path: Path
) -> None:
    export_folder(full, tmp_path / "out")
    number = len(attachments(full))
    files = sorted((tmp_path / "out" / "attachments").iterdir())
    assert len(files) == number
    files[0].unlink()
    files[1].write_bytes(b"something else")
    files[2].unlink()
    files[2].symlink_to("/etc/hostname")
    path = tmp_path / "out" / "attachments.csv"
    path.write_text(path.read_text().replace('bbch"": ""67', 'bbch"": ""69'))
    report = import_folder(elsewhere, tmp_path / "out", today=TODAY, signed=ADA).kinds[-1]
    reasons = {refusal.reason for refusal in report.refused}
    assert reasons >= {
        "no such file in the folder of attachments", "the file is not as it was attached",
        "no such record here",
    }  # fmt: skip
    assert len(attachments(elsewhere)) == report.new == number - len(report.refused) > 0


TEXTS = st.one_of(
    st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=20),
    st.sampled_from(["=1+1", "'=1+1", "''@x", "+", "-2", "@SUM(A1)", "'x", "a\nb", '"', ",;|"]),
).map(lambda text: " ".join(text.split(" ")).strip())
PICKS = st.lists(
    st.fixed_dictionaries(
        {
            "weight_kg": st.floats(0, 2000, allow_nan=False),
            "fruit_count": st.one_of(st.none(), st.integers(0, 100_000)),
            "brix": st.one_of(st.none(), st.floats(0, 60, allow_nan=False)),
            "last": st.sampled_from([None, True, False]),
            "note": st.one_of(st.none(), TEXTS),
            "cause": st.one_of(st.none(), TEXTS),
        }
    ),
    max_size=5,
)


@settings(max_examples=40, deadline=None)
@given(picks=PICKS, name=TEXTS.filter(bool), xlsx=st.booleans())
def test_law_export_and_import_lose_nothing(
    sqlite_template: Path, picks: list[dict[str, Any]], name: str, xlsx: bool
) -> None:
    import unicodedata

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        one, two = (
            open_orchard(str(shutil.copyfile(sqlite_template, folder / f"{n}.sqlite")))
            for n in (1, 2)
        )
        tidy = unicodedata.normalize("NFC", name).strip() or "x"
        with one.writing() as connection:
            connection.execute(
                insert(TABLES["sites"]),
                {"site": tidy, "site_key": tidy.casefold(), "latitude": 1.1, "longitude": -1 / 3},
            )
            connection.execute(insert(TABLES["trees"]), {
                "tree": tidy, "tree_key": tidy.casefold(), "site_id": 1, "species": "apple",
                "cultivar": "own", "planted": TODAY.replace(year=2000)})  # fmt: skip
            for at, pick in enumerate(picks):
                row = {n: unicodedata.normalize("NFC", v).strip() or None
                       if isinstance(v, str) else v for n, v in pick.items()}  # fmt: skip
                connection.execute(insert(TABLES["picks"]), {
                    **row, "tree_id": 1, "date": TODAY.replace(year=2001 + at)})  # fmt: skip
        export_folder(one, folder / "out", xlsx=xlsx)
        report = import_folder(two, folder / "out", today=TODAY, signed=ADA)
        assert [kind.refused for kind in report.kinds if kind.refused] == []
        with one.reading() as first, two.reading() as second:
            for kind in ("sites", "trees", "picks"):
                query = select(*(c for c in TABLES[kind].c if c.name != "id"))
                assert second.execute(query).all() == first.execute(query).all()


@given(TEXTS)
def test_law_what_is_neutralised_comes_back_and_starts_no_formula(text: str) -> None:
    out = neutralised(text)
    assert restored(out) == text
    assert out[:1] not in tuple("=+-@\t\r")


def test_a_spreadsheet_sees_no_formula(full: Orchard, tmp_path: Path) -> None:
    export_folder(full, tmp_path / "out", xlsx=True)
    sheet = openpyxl.load_workbook(tmp_path / "out" / "settings.xlsx").active
    assert sheet is not None
    cells = {row[0].value: row[1] for row in sheet.iter_rows(min_row=2)}
    assert (cells["note"].value, cells["note"].data_type) == ("'=1+1", "s")


def test_the_description_names_every_file_and_column(full: Orchard, tmp_path: Path) -> None:
    """Data Package and Table Schema, specs.frictionlessdata.io (version 1, from memory)."""
    export_folder(full, tmp_path / "out")
    package = json.loads((tmp_path / "out" / "datapackage.json").read_text(encoding="utf-8"))
    assert package["profile"] == "tabular-data-package"
    types = {"string", "number", "integer", "boolean", "date"}
    for resource in package["resources"]:
        with (tmp_path / "out" / resource["path"]).open(encoding="utf-8", newline="") as file:
            header = next(csv.reader(file))
        assert [f["name"] for f in resource["schema"]["fields"]] == header
        assert {f["type"] for f in resource["schema"]["fields"]} <= types
    (picks,) = [r for r in package["resources"] if r["name"] == "picks"]
    weight = picks["schema"]["fields"][2]
    assert weight == {
        "name": "weight_kg", "type": "number", "description": "weight picked [kg]",
        "constraints": {"required": True, "minimum": 0, "maximum": 2000},
    }  # fmt: skip


@pytest.mark.parametrize("xlsx", [False, True])
def test_an_outside_reader_finds_every_table_as_described(
    full: Orchard, tmp_path: Path, xlsx: bool
) -> None:
    """frictionless, the Data Package standard's own reader: description, types, limits, keys."""
    done = export_folder(full, tmp_path / "out", xlsx=xlsx)
    read = Package(str(tmp_path / "out" / "datapackage.json"))
    report = read.validate()
    assert report.flatten(["name", "rowNumber", "fieldName", "note"]) == []
    assert (report.valid, report.stats["tasks"]) == (True, len(done))
    for each in done:
        name = each.file.partition(".")[0]
        assert len(read.get_resource(name).read_rows()) == each.records > 0
    with full.reading() as connection:
        weights = read_kind(connection, "picks")["weight_kg"].tolist()
    assert [float(row["weight_kg"]) for row in read.get_resource("picks").read_rows()] == weights


@pytest.mark.parametrize(
    ("file", "old", "new", "found"),
    [("picks.csv", ",12.4,", ",-1,", "constraint-error"),
     ("picks.csv", "Zoë", "Nobody", "foreign-key"),
     ("stages.csv", "2024-05-02", "2 May", "type-error"),
     ("experience.csv", "Theirs", "\"Ours, before\"", "primary-key")],
)  # fmt: skip
def test_the_outside_reader_would_find_what_is_wrong(
    full: Orchard, tmp_path: Path, file: str, old: str, new: str, found: str
) -> None:
    export_folder(full, tmp_path / "out")
    path = tmp_path / "out" / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    report = Package(str(tmp_path / "out" / "datapackage.json")).validate()
    assert found in [kind for (kind,) in report.flatten(["type"])]


def test_the_outside_reader_would_find_what_is_wrong_in_a_workbook(
    full: Orchard, tmp_path: Path
) -> None:
    export_folder(full, tmp_path / "out", xlsx=True)
    path = tmp_path / "out" / "picks.xlsx"
    book = openpyxl.load_workbook(path)
    assert book.active is not None
    book.active["A2"], book.active["C2"] = "Nobody", -1
    book.save(path)
    report = Package(str(tmp_path / "out" / "datapackage.json")).validate()
    found = [(kind, name) for kind, name in report.flatten(["type", "fieldName"])]
    assert ("constraint-error", "weight_kg") in found
    assert "foreign-key" in [kind for kind, _ in found]


def test_a_folder_with_files_in_it_is_left_alone(full: Orchard, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine.txt").write_text("x")
    with pytest.raises(InputError, match="needs a new or empty folder; given: a folder with files"):
        export_folder(full, tmp_path / "out")
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["mine.txt"]


@pytest.mark.parametrize("path", ["../secret.csv", "/etc/passwd", "..\\secret.csv", "C:\\x.csv",
                                  "link.csv"])  # fmt: skip
def test_no_path_leads_out_of_the_folder(elsewhere: Orchard, tmp_path: Path, path: str) -> None:
    (tmp_path / "secret.csv").write_text("site,latitude,longitude\nX,1,1\n")
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "link.csv").symlink_to(tmp_path / "secret.csv")
    text = json.dumps({"resources": [{"name": "sites", "path": path}]})
    (folder / "datapackage.json").write_text(text)
    with pytest.raises(FileFormatError, match="every file must lie inside the folder"):
        import_folder(elsewhere, folder, today=TODAY, signed=ADA)
    assert count_kinds(elsewhere)["sites"] == 0


def test_a_folder_without_our_files(elsewhere: Orchard, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(FileFormatError, match="must hold files that 'harvest export' wrote"):
        import_folder(elsewhere, tmp_path / "empty", today=TODAY, signed=ADA)


def test_a_broken_table_takes_nothing_in(full: Orchard, elsewhere: Orchard, tmp_path: Path) -> None:
    export_folder(full, tmp_path / "out")
    path = tmp_path / "out" / "weather_ahead.csv"
    path.write_text(path.read_text().replace("2020-08-12", "soon", 1))
    with pytest.raises(FileFormatError, match="issued must be as it was exported; given: 'soon'"):
        import_folder(elsewhere, tmp_path / "out", today=TODAY, signed=ADA)
    assert set(count_kinds(elsewhere).values()) == {0}
