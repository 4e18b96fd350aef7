"""Rules that hold a file's rows against what the orchard knows, and what each refusal says."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from harvest.store.importing import ImportReport, import_file
from harvest.store.orchard import Orchard, open_orchard
from harvest.store.parsing import Refusal
from tests.orchards import TODAY, Row, plant, put


@pytest.fixture
def planted(sqlite_address: str, tmp_path: Path) -> Orchard:
    orchard = open_orchard(sqlite_address)
    plant(orchard, tmp_path)
    return orchard


def only(report: ImportReport) -> Refusal:
    assert report.new == report.same == report.changed == 0
    (refusal,) = report.refused
    assert refusal.line == 2
    assert refusal.reason
    assert refusal.todo.endswith((".", "?"))
    return refusal


# Names


@pytest.mark.parametrize(
    ("typed", "todo"),
    [
        ("Aple 1", "Did you mean 'Apple 1' or 'Apple 2'?"),
        ("mandrin", "Did you mean 'Mandarin' or 'Mandarin S'?"),
        ("xyz", "Known: Apple 1, Apple 2, Loquat, Mandarin, Mandarin S, Peach."),
    ],
)
def test_an_unknown_tree_lists_the_trees_most_like_it(
    planted: Orchard, tmp_path: Path, typed: str, todo: str
) -> None:
    report = put(planted, "stages", [{"tree": typed, "date": "2025-05-01", "bbch": 65}], tmp_path)
    refusal = only(report)
    assert (refusal.column, refusal.value) == ("tree", typed)
    assert refusal.reason == "no tree of this name is on record"
    assert refusal.todo == todo


def test_an_unknown_site_lists_the_sites_most_like_it(planted: Orchard, tmp_path: Path) -> None:
    row = {"site": "Hom", "date": "2025-05-01", "tmin_c": 4, "tmax_c": 15}
    refusal = only(put(planted, "weather", [row], tmp_path))
    assert (refusal.column, refusal.todo) == ("site", "Did you mean 'Home'?")


def test_records_of_an_orchard_without_trees_say_so(sqlite_address: str, tmp_path: Path) -> None:
    orchard = open_orchard(sqlite_address)
    pick = [{"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 2}]
    assert only(put(orchard, "picks", pick, tmp_path)).todo == "There is no tree on record yet."
    tree = [{"tree": "A", "site": "Home", "species": "apple", "cultivar": "Gala",
             "planted": "2020-01-01"}]  # fmt: skip
    assert only(put(orchard, "trees", tree, tmp_path)).todo == "There is no site on record yet."


@pytest.mark.parametrize(
    ("typed", "kept"),
    [("Apple", "apple"), ("APPLES", "apple"), ("Malus domestica", "apple"),
     ("Pear", "european pear"), ("sweet cherries", "sweet cherry")],
)  # fmt: skip
def test_a_species_is_known_by_its_usual_names(
    planted: Orchard, tmp_path: Path, typed: str, kept: str
) -> None:
    row = {
        "tree": "New",
        "site": "Home",
        "species": typed,
        "cultivar": "x",
        "planted": "2020-01-01",
    }
    assert put(planted, "trees", [row], tmp_path).new == 1
    same = row | {"species": kept}
    assert put(planted, "trees", [same], tmp_path).same == 1


@pytest.mark.parametrize(
    ("typed", "todo"),
    [("aple", "Did you mean 'apple'"), ("cherry", "sour cherry' or 'sweet cherry"), ("oak", "")],
)
def test_an_unknown_species_lists_those_most_like_it(
    planted: Orchard, tmp_path: Path, typed: str, todo: str
) -> None:
    row = {
        "tree": "New",
        "site": "Home",
        "species": typed,
        "cultivar": "x",
        "planted": "2020-01-01",
    }
    refusal = only(put(planted, "trees", [row], tmp_path))
    assert (refusal.column, refusal.value) == ("species", typed)
    assert todo in refusal.todo
    assert refusal.todo


def test_a_known_cultivar_is_respelt_and_an_unknown_one_welcome(
    planted: Orchard, tmp_path: Path
) -> None:
    rows: list[Row] = [
        {"tree": f"New {n}", "site": "Home", "species": "apple", "cultivar": name,
         "planted": "2020-01-01"}
        for n, name in enumerate(["GALA", "golden  delicious", "Our own Seedling"])
    ]  # fmt: skip
    assert put(planted, "trees", rows, tmp_path).new == 3
    with planted.reading() as connection:
        from harvest.store.reading import read_kind

        kept = read_kind(connection, "trees").set_index("tree")["cultivar"]
    assert [kept[f"New {n}"] for n in range(3)] == ["Gala", "Golden Delicious", "Our own Seedling"]


@pytest.mark.parametrize(("zone", "close"), [("Europe/Lndon", "Europe/London"), ("GMT+25", "")])
def test_a_time_zone_nobody_knows_is_refused(
    planted: Orchard, tmp_path: Path, zone: str, close: str
) -> None:
    row = {"site": "New", "latitude": 1, "longitude": 1, "timezone": zone}
    refusal = only(put(planted, "sites", [row], tmp_path))
    assert (refusal.column, refusal.value) == ("timezone", zone)
    assert close in refusal.todo


def test_a_time_zone_of_the_database_is_taken(planted: Orchard, tmp_path: Path) -> None:
    row = {"site": "New", "latitude": 1, "longitude": 1, "timezone": "Pacific/Auckland"}
    assert put(planted, "sites", [row], tmp_path).new == 1


def test_a_computer_without_the_database_takes_any_zone(
    planted: Orchard, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("harvest.store.checking.available_timezones", lambda: set[str]())
    row = {"site": "New", "latitude": 1, "longitude": 1, "timezone": "Europe/Somewhere"}
    assert put(planted, "sites", [row], tmp_path).new == 1


# Tree or site


@pytest.mark.parametrize("kind", ["events", "sprays"])
@pytest.mark.parametrize(
    ("tree", "site", "column", "reason"),
    [
        ("Apple 1", "Home", "site", "a tree and a site are given"),
        ("", "", "tree", "no tree and no site is given"),
    ],
)
def test_one_of_tree_and_site_must_be_filled(
    planted: Orchard, tmp_path: Path, kind: str, tree: str, site: str, column: str, reason: str
) -> None:
    row = {"tree": tree, "site": site, "date": "2025-05-01", "event": "hail", "product": "Soap",
           "withholding_days": ""}  # fmt: skip
    refusal = only(put(planted, kind, [row], tmp_path))
    assert (refusal.column, refusal.reason) == (column, reason)
    assert refusal.todo


@pytest.mark.parametrize("kind", ["events", "sprays"])
def test_a_file_may_have_only_one_of_the_two_columns(
    planted: Orchard, tmp_path: Path, kind: str
) -> None:
    rest = {"date": "2025-05-01", "event": "hail", "product": "Soap", "withholding_days": 3}
    assert put(planted, kind, [{"tree": "Apple 1", **rest}], tmp_path).new == 1
    assert put(planted, kind, [{"site": "Home", **rest}], tmp_path).new == 1
    assert put(planted, kind, [{"site": "Home", **rest}], tmp_path).same == 1


# Dates


@pytest.mark.parametrize(
    ("day", "reason"),
    [
        ("2026-08-13", "the date lies in the future"),
        ("2062-05-01", "the date lies in the future"),
        ("2015-01-14", "the date lies before the tree was planted"),
        ("1025-05-01", "the date lies before 1700"),
    ],
)
def test_a_record_is_dated_from_planting_to_today(
    planted: Orchard, tmp_path: Path, day: str, reason: str
) -> None:
    refusal = only(put(planted, "stages", [{"tree": "Peach", "date": day, "bbch": 65}], tmp_path))
    assert (refusal.column, refusal.value, refusal.reason) == ("date", day, reason)
    assert refusal.todo


@pytest.mark.parametrize("day", ["2015-01-15", "2026-08-12"])
def test_the_day_of_planting_and_today_are_good(planted: Orchard, tmp_path: Path, day: str) -> None:
    row = {"tree": "Peach", "date": day, "bbch": 0}
    assert put(planted, "stages", [row], tmp_path, today=TODAY).new == 1


def test_weather_may_not_lie_in_the_future(planted: Orchard, tmp_path: Path) -> None:
    row = {"site": "Home", "date": "2026-08-13", "tmin_c": 4, "tmax_c": 15}
    refusal = only(put(planted, "weather", [row], tmp_path))
    assert refusal.reason == "the date lies in the future"
    assert "2026-08-12" in refusal.todo


def test_the_future_is_judged_by_the_day_given_not_by_the_clock(
    planted: Orchard, tmp_path: Path
) -> None:
    row = [{"tree": "Peach", "date": "2020-09-02", "bbch": 65}]
    assert put(planted, "stages", row, tmp_path, today=date(2020, 9, 1)).refused
    assert put(planted, "stages", row, tmp_path, today=date(2020, 9, 2)).new == 1


def test_planting_and_removal_must_make_sense(planted: Orchard, tmp_path: Path) -> None:
    tree = {"site": "Home", "species": "apple", "cultivar": "Gala"}
    rows: list[Row] = [
        {"tree": "A", **tree, "planted": "2026-11-01", "removed": ""},
        {"tree": "B", **tree, "planted": "2020-01-01", "removed": "2019-01-01"},
        {"tree": "C", **tree, "planted": "2020-01-01", "removed": "2020-01-01"},
    ]
    report = put(planted, "trees", rows, tmp_path)
    assert report.new == 1
    told = [(r.line, r.column, r.value, r.reason) for r in report.refused]
    assert all(refusal.todo for refusal in report.refused)
    assert told == [
        (2, "planted", "2026-11-01", "the date lies in the future"),
        (3, "removed", "2019-01-01", "removed before it was planted"),
    ]


def test_a_record_after_removal_is_kept_with_a_warning(planted: Orchard, tmp_path: Path) -> None:
    gone = {"tree": "Apple 2", "site": "Home", "species": "apple", "cultivar": "Gala",
            "planted": "2015-01-15", "removed": "2026-07-03"}  # fmt: skip
    put(planted, "trees", [gone], tmp_path)
    rows: list[Row] = [
        {"tree": "Apple 2", "date": "2026-07-03", "girth_cm": 20},
        {"tree": "Apple 2", "date": "2026-07-04", "girth_cm": 20},
    ]
    report = put(planted, "girths", rows, tmp_path)
    assert report.new == 2
    (warning,) = report.warnings
    assert (warning.line, warning.value) == (3, "2026-07-04")
    assert warning.reason == "after the tree was removed"


# Values that cannot stand together


def test_a_minimum_above_the_maximum_is_refused(planted: Orchard, tmp_path: Path) -> None:
    rows: list[Row] = [
        {"site": "Home", "date": "2026-05-01", "tmin_c": "15.5", "tmax_c": 4},
        {"site": "Home", "date": "2026-05-02", "tmin_c": 4, "tmax_c": 4},
        {"site": "Home", "date": "2026-05-03", "tmin_c": "", "tmax_c": 4},
    ]
    report = put(planted, "weather", rows, tmp_path)
    assert report.new == 2
    (refusal,) = report.refused
    assert (refusal.line, refusal.column, refusal.value) == (2, "tmin_c", "15.5")
    assert refusal.reason == "the minimum is above the maximum"
    assert "swapped" in refusal.todo


def test_a_refusal_quotes_the_file_not_our_units(planted: Orchard, tmp_path: Path) -> None:
    row = {"site": "Home", "date": "2026-05-01", "Tmin (F)": 80, "Tmax (F)": 70}
    refusal = only(put(planted, "weather", [row], tmp_path))
    assert (refusal.column, refusal.value) == ("Tmin (F)", "80")


def test_a_day_without_any_value_is_no_record(planted: Orchard, tmp_path: Path) -> None:
    row = {"site": "Home", "date": "2026-05-01", "tmin_c": "", "tmax_c": "", "precip_mm": ""}
    assert only(put(planted, "weather", [row], tmp_path)).reason == "the day holds no value"


def test_more_graded_out_than_picked_is_refused(planted: Orchard, tmp_path: Path) -> None:
    rows: list[Row] = [
        {"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 2, "graded_out_kg": "2.01"},
        {"tree": "Apple 1", "date": "2025-09-02", "weight_kg": 2, "graded_out_kg": 2},
        {"tree": "Apple 1", "date": "2025-09-03", "weight_kg": 0, "graded_out_kg": ""},
    ]
    report = put(planted, "picks", rows, tmp_path)
    assert report.new == 2
    (refusal,) = report.refused
    assert (refusal.line, refusal.column, refusal.value) == (2, "graded_out_kg", "2.01")
    assert refusal.todo == "Check the two weights."


# The same record twice in one file


def test_the_same_row_twice_is_taken_once(planted: Orchard, tmp_path: Path) -> None:
    row = {"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 2.5}
    report = put(planted, "picks", [row, row | {"tree": "APPLE 1"}, row], tmp_path)
    assert (report.read, report.new, report.same, report.refused) == (3, 1, 2, ())
    assert [warning.line for warning in report.warnings] == [3, 4]
    assert report.warnings[0].reason == "the same row stands above; taken once"


def test_the_same_record_twice_with_other_values_is_refused(
    planted: Orchard, tmp_path: Path
) -> None:
    rows: list[Row] = [
        {"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 2.5, "pass": ""},
        {"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 3.5, "pass": ""},
        {"tree": "Apple 1", "date": "2025-09-01", "weight_kg": 3.5, "pass": 2},
    ]
    report = put(planted, "picks", rows, tmp_path)
    assert report.new == 2
    (refusal,) = report.refused
    assert (refusal.line, refusal.reason) == (3, "the record stands above with other values")
    assert "number the passes" in refusal.todo


def test_two_stages_on_one_day_are_two_records(planted: Orchard, tmp_path: Path) -> None:
    rows: list[Row] = [{"tree": "Apple 1", "date": "2025-05-01", "bbch": b} for b in (61, 65)]
    assert put(planted, "stages", rows, tmp_path).new == 2


def test_two_sprays_on_one_day_differ_by_their_hour(planted: Orchard, tmp_path: Path) -> None:
    rows: list[Row] = [
        {"tree": "Apple 1", "date": moment, "product": "Soap", "withholding_days": 1}
        for moment in ("2025-05-01T06:00", "2025-05-01T20:00", "2025-05-01")
    ]
    assert put(planted, "sprays", rows, tmp_path).new == 3
    assert put(planted, "sprays", rows, tmp_path).same == 3


def test_every_refusal_of_a_bad_file_is_told_in_the_order_of_its_lines(
    planted: Orchard, tmp_path: Path
) -> None:
    path = tmp_path / "stages.csv"
    path.write_text(
        "tree;date;bbch;note\n"
        "Apple 1;2025-05-01;65;\n"
        "Apple 1;2027-05-01;65;future\n"
        "Apple 1;2025-05-03;165;no code\n"
        'Apple 9;2025-05-04;65;"two\nlines"\n'
        "Apple 1;2014-05-05;65;before planting\n"
        "Apple 1;2025-05-06;69;\n",
        encoding="utf-16",
    )
    report = import_file(planted, "stages", path, today=TODAY)
    assert (report.read, report.new, report.encoding) == (6, 2, "utf-16")
    assert [(r.line, r.column) for r in report.refused] == [
        (3, "date"), (4, "bbch"), (5, "tree"), (7, "date"),
    ]  # fmt: skip
