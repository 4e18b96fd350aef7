"""From text to values: headers, numbers, dates, words, and a reason for every refusal."""

from __future__ import annotations

from datetime import date, datetime, time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from harvest.errors import FileFormatError
from harvest.records import KINDS, fields
from harvest.store.parsing import Parsed, Refusal, parse
from harvest.store.synonyms import SYNONYMS
from harvest.store.tablefile import MOST_CELL, TextTable, read_table
from harvest.units import CONVERSIONS


def table_of(header: str, *rows: str, separator: str = ",") -> TextTable:
    names = header.split(separator)
    cells = [row.split(separator) for row in rows]
    frame = pd.DataFrame(cells, columns=names, index=range(2, len(rows) + 2), dtype=object)
    return TextTable(frame, "picks.csv", "utf-8", separator, "")


def parsed(kind: str, header: str, *rows: str) -> Parsed:
    return parse(kind, table_of(header, *rows))


def one_refusal(kind: str, header: str, row: str) -> Refusal:
    """The single refusal of a file whose second row is in order and first one is not."""
    result = parsed(kind, header, row)
    assert len(result.rows) == 0
    (refusal,) = result.refused
    assert refusal.line == 2
    assert refusal.todo.endswith(".")
    return refusal


# Headers


@pytest.mark.parametrize(
    "header",
    [
        "tree,date,weight_kg",
        "Tree,Date,Weight_kg",
        "TREE,DATE,WEIGHT KG",
        " tree , date , weight (kg) ",
        "Tree name,Day,kg",
        "tree_id,Date/Time,Weight [kg]",
    ],
)
def test_headers_are_known_whatever_their_case_and_punctuation(header: str) -> None:
    result = parsed("picks", header, "A,2026-05-01,12.5")
    assert result.rows.loc[2, ["tree", "weight_kg"]].tolist() == ["A", 12.5]
    assert result.rows.loc[2, "date"] == pd.Timestamp("2026-05-01")
    assert result.ignored_columns == ()


def test_every_synonym_leads_to_a_column_we_have_and_to_one_only() -> None:
    headers = {field.header for kind in KINDS for field in fields(kind)}
    assert set(SYNONYMS) <= headers | set(CONVERSIONS)
    twins = [(conversion.column, other) for other, conversion in CONVERSIONS.items()]
    for kind in KINDS:
        words = [
            word
            for field in fields(kind)
            for name in [field.header, *(other for ours, other in twins if ours == field.header)]
            for word in (name, *SYNONYMS.get(name, ()))
        ]  # fmt: skip
        assert len(words) == len(set(words)), kind


@pytest.mark.parametrize(
    ("kind", "header", "missing"),
    [
        ("picks", "tree,date", "weight_kg"),
        ("stages", "tree,date", "bbch"),
        ("girths", "tree,date,girth", "girth_cm"),  # a girth without its unit
        ("sites", "site,note", "latitude, longitude"),
        ("events", "date,event", "tree or site"),
        ("sprays", "date,product,tree", "withholding_days"),
    ],
)
def test_a_missing_column_is_named_with_what_was_there_and_what_belongs_there(
    kind: str, header: str, missing: str
) -> None:
    with pytest.raises(FileFormatError, match=f"a {kind} file needs the columns? {missing};") as e:
        parsed(kind, header, ",".join("x" for _ in header.split(",")))
    assert e.value.given == header.replace(",", ", ")
    assert e.value.where == "picks.csv, header row"
    for field in fields(kind):
        if field.type is not time:
            assert field.header in e.value.todo


def test_the_list_of_columns_names_the_other_units() -> None:
    with pytest.raises(FileFormatError, match="girth_cm or girth_in"):
        parsed("girths", "tree,date", "A,2026-05-01")


def test_column_names_below_a_title_are_found_and_said(tmp_path: Path) -> None:
    path = tmp_path / "trees.csv"
    path.write_text("Garden club,,\n\nTree,Date,weight_kg\nA,2026-05-01,1\n", encoding="utf-8")
    with pytest.raises(
        FileFormatError, match="Take out the lines above the column names in line 3"
    ):
        parse("picks", read_table(path))


@pytest.mark.parametrize("header", ["tree,Date,date,weight_kg", "tree,date,weight kg,Weight_KG"])
def test_two_columns_of_one_name_are_refused(header: str) -> None:
    with pytest.raises(FileFormatError, match=r"name of its own; given: '.+' and '.+'"):
        parsed("picks", header, "A,2026-05-01,2026-05-01,3")


def test_columns_that_are_not_understood_are_told_and_left_out() -> None:
    result = parsed("picks", "tree,date,weight_kg,weather,time_of_day", "A,2026-05-01,1,sun,noon")
    assert result.ignored_columns == ("weather", "time_of_day")
    assert len(result.rows) == 1


# Numbers


@pytest.mark.parametrize(
    ("text", "value"),
    [("12.5", 12.5), ("12,5", 12.5), ("0,125", 0.125), ("0", 0.0), ("+3", 3.0), (".5", 0.5),
     ("1e2", 100.0), (" 7 ", 7.0), ("1000", 1000.0), ("12,50", 12.5), ("1234,567", 1234.567)],
)  # fmt: skip
def test_numbers_with_either_decimal_mark(text: str, value: float) -> None:
    result = parse("picks", table_of("tree;date;weight_kg", f"A;2026-05-01;{text}", separator=";"))
    assert result.refused == []
    assert result.rows.loc[2, "weight_kg"] == value


def test_a_point_among_decimal_commas_may_part_the_thousands() -> None:
    """And in a whole number it parts nothing else."""
    header = "tree;date;weight_kg;fruit_count"
    rows = ["A;2026-05-01;12,5;80", "A;2026-05-02;1.250;80", "A;2026-05-03;1.25;1.000",
            "A;2026-05-04;1.25;12.0"]  # fmt: skip
    result = parse("picks", table_of(header, *rows, separator=";"))
    assert [(r.line, r.column, r.value, r.reason) for r in result.refused] == [
        (3, "weight_kg", "1.250", "the point may be a decimal or a thousands mark"),
        (4, "fruit_count", "1.000", "the point may be a decimal or a thousands mark"),
    ]
    assert result.rows["weight_kg"].tolist() == [12.5, 1.25]
    assert result.rows["fruit_count"].tolist() == [80, 12]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("1,234", "the comma may be a decimal or a thousands mark"),
        ("12,345", "the comma may be a decimal or a thousands mark"),
        ("1,234,567", "the comma may be a decimal or a thousands mark"),
        ("1.234,5", "not a number"),
        ("1,234.5", "not a number"),
        ("12 kg", "not a number"),
        ("1 000", "not a number"),
        ("twelve", "not a number"),
        ("nan", "not a number"),
        ("inf", "not a number"),
        ("1e999", "not a number"),
        ("True", "not a number"),
        ("0x1F", "not a number"),
        ("=1+1", "not a number"),
        ("#N/A", "not a number"),
        ("12.5.1", "not a number"),
        ("-3", "weight picked must lie between 0 and 2000 kg"),
        ("2000.5", "weight picked must lie between 0 and 2000 kg"),
        ("", "a value is needed here"),
    ],
)
def test_numbers_that_are_none_or_cannot_be(text: str, reason: str) -> None:
    table = table_of("tree;date;weight_kg", f"A;2026-05-01;{text}", separator=";")
    (refusal,) = parse("picks", table).refused
    assert (refusal.line, refusal.column, refusal.value) == (2, "weight_kg", text)
    assert refusal.reason == reason
    if "number" in reason or "comma" in reason:
        assert "decimal point" in refusal.todo


@pytest.mark.parametrize("text", ["-1", "100", "65.5", "six"])
def test_a_stage_must_be_a_bbch_code(text: str) -> None:
    refusal = one_refusal("stages", "tree,date,bbch", f"A,2026-05-01,{text}")
    assert (refusal.column, refusal.value) == ("bbch", text)
    assert refusal.reason in {
        "growth stage, BBCH code must lie between 0 and 99",
        "not a whole number",
        "not a number",
    }


@pytest.mark.parametrize("code", ["0", "00", "65", "99"])
def test_every_bbch_code_is_taken(code: str) -> None:
    result = parsed("stages", "tree,date,bbch", f"A,2026-05-01,{code}")
    assert result.rows.loc[2, "bbch"] == int(code)


@pytest.mark.parametrize(
    ("kind", "header", "row", "column", "value"),
    [
        # NIST SP 811 (2008), B.8: exact factors; 104 degF is 40 degC.
        ("weather", "site,date,tmin_f,tmax_f", "H,2026-05-01,32,104", "tmax_c", 40.0),
        ("weather", "site,date,Tmin (F),Tmax (°F)", "H,2026-05-01,-40,32", "tmin_c", -40.0),
        ("weather", "site,date,tmin_c,tmax_c,precip_in", "H,2026-05-01,1,2,2", "precip_mm", 50.8),
        ("weather", "site,date,tmin_c,tmax_c,wind_m_s", "H,2026-05-01,1,2,2.5", "wind_kmh", 9.0),
        ("picks", "tree,date,weight_lb", "A,2026-05-01,10", "weight_kg", 4.5359237),
        ("picks", "tree,date,Lbs", "A,2026-05-01,1", "weight_kg", 0.45359237),
        ("girths", "tree,date,girth_in", "A,2026-05-01,10", "girth_cm", 25.4),
        ("sites", "site,latitude,longitude,elevation_ft", "H,1,1,1000", "elevation_m", 304.8),
    ],
)
def test_other_units_are_converted_once_at_the_door(
    kind: str, header: str, row: str, column: str, value: float
) -> None:
    result = parsed(kind, header, row)
    assert result.refused == []
    assert result.rows.loc[2, column] == value


def test_a_refused_number_in_another_unit_is_told_as_it_was_typed() -> None:
    refusal = one_refusal("picks", "tree,date,Weight (lb)", "A,2026-05-01,-5")
    assert (refusal.column, refusal.value) == ("Weight (lb)", "-5")


# Dates, words, yes and no


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("01/05/2026", "may be 1 May 2026 or 5 January 2026"),
        ("1.5.2026", "may be 1 May 2026 or 5 January 2026"),
        ("1.5.26", "not a date as understood"),
        ("May 2026", "not a date as understood"),
        ("Ma 1, 2026", "not a date as understood"),
        ("30 February 2026", "not a date as understood"),
        ("30/2/2026", "no such day in the calendar"),
        ("31/31/2026", "no such day in the calendar"),
        # 1 May 2026 as `=DATEVALUE` of a general spreadsheet gives it.
        ("46143", "a spreadsheet's number of a day, 2026-05-01 if its days count from 1900"),
        ("2026-02-29", "no such day in the calendar"),
        ("2026-13-01", "no such day in the calendar"),
        ("20260501", "not a date as understood"),
        ("2026-05-01T25:00", "no such day in the calendar"),
        ("2026", "not a date as understood"),
    ],
)
def test_dates_are_never_guessed(text: str, reason: str) -> None:
    table = table_of("tree;date;weight_kg", f"A;{text};1", separator=";")
    (refusal,) = parse("picks", table).refused
    assert (refusal.column, refusal.value) == ("date", text)
    assert refusal.reason == reason
    assert "YYYY-MM-DD" in refusal.todo


@pytest.mark.parametrize(
    "text",
    ["1 May 2026", "May 1, 2026", "1. may 2026", "01-May-2026", "1st MAY 2026", "2026-5-1",
     "2026/05/01", "1 May 2026 00:00"],
)  # fmt: skip
def test_a_date_that_can_mean_one_day_only_is_read(text: str) -> None:
    """Against the standard library's own reading of the plainest form."""
    table = table_of("tree;date;weight_kg", f"A;{text};1", separator=";")
    result = parse("picks", table)
    assert result.rows.loc[2, "date"] == datetime.strptime("1 May 2026", "%d %B %Y")
    assert result.day_orders == ()


def test_the_other_dates_of_a_column_tell_which_number_is_the_day() -> None:
    rows = ["A;1/9/2023;1", "A;15/7/2023;2", "A;2023-01-02;3", "A;3 Sept 2023;4"]
    result = parse("picks", table_of("tree;date;weight_kg", *rows, separator=";"))
    assert [f"{day:%Y-%m-%d}" for day in result.rows["date"]] == [
        "2023-09-01", "2023-07-15", "2023-01-02", "2023-09-03",
    ]  # fmt: skip
    assert result.day_orders == ("date was read day first, as 15/7/2023 in line 3 can only be",)
    rows = ["A;1/9/2023;1", "A;7/15/2023;2"]
    result = parse("picks", table_of("tree;date;weight_kg", *rows, separator=";"))
    assert [f"{day:%Y-%m-%d}" for day in result.rows["date"]] == ["2023-01-09", "2023-07-15"]
    rows.append("A;15/7/2023;3")  # now the column tells both orders
    result = parse("picks", table_of("tree;date;weight_kg", *rows, separator=";"))
    assert result.rows.index.tolist() == [3, 4]
    assert [(r.line, r.reason) for r in result.refused] == [
        (2, "may be 1 September 2023 or 9 January 2023")
    ]
    assert result.day_orders == ()


@pytest.mark.parametrize(
    "text", ["2024-02-29", "2024-02-29T06:30", "2024-02-29 23:59:59", "2024-02-29T00:00:00.5"]
)
def test_a_leap_day_and_a_time_beside_a_date(text: str) -> None:
    result = parsed("picks", "tree,date,weight_kg", f"A,{text},1")
    assert result.rows.loc[2, "date"] == pd.Timestamp("2024-02-29")


def test_a_sprays_time_of_day_is_read_off_its_date() -> None:
    result = parsed(
        "sprays",
        "tree,date,product,withholding_days",
        "A,2026-05-01T06:30,Copper,14",
        "A,2026-05-02,Copper,14",
        "A,2026-05-03 00:00,Copper,",
    )
    assert result.rows["time_of_day"].tolist() == [time(6, 30), None, None]
    assert result.rows["date"].dt.date.tolist() == [date(2026, 5, n) for n in (1, 2, 3)]
    assert np.isnan(result.rows.loc[4, "withholding_days"])


@pytest.mark.parametrize("day", ["1700-01-01", "1969-12-31", "2262-04-12", "9999-12-31"])
def test_dates_far_from_today_can_be_read(day: str) -> None:
    result = parsed("picks", "tree,date,weight_kg", f"A,{day},1")
    assert str(result.rows.loc[2, "date"].date()) == day


@pytest.mark.parametrize(
    ("text", "value"),
    [("yes", True), ("YES", True), ("y", True), ("1", True), ("x", True), ("No", False),
     ("0", False), ("false", False), ("", None)],
)  # fmt: skip
def test_yes_and_no(text: str, value: bool | None) -> None:
    result = parsed("picks", "tree,date,weight_kg,last", f"A,2026-05-01,1,{text}")
    assert result.refused == []
    assert result.rows.loc[2, "last"] is value


def test_neither_yes_nor_no() -> None:
    refusal = one_refusal("picks", "tree,date,weight_kg,last", "A,2026-05-01,1,perhaps")
    assert (refusal.column, refusal.value) == ("last", "perhaps")
    assert refusal.reason == "neither yes nor no"


@pytest.mark.parametrize(
    ("kind", "header", "row", "column", "offered"),
    [
        ("thinnings", "tree,date,action", "A,2026-05-01,prune", "action", "strip, thin"),
        ("events", "tree,date,event", "A,2026-05-01,locusts", "event", "frost, hail, wind"),
        ("trees", "tree,site,species,cultivar,planted,vigour", "A,H,apple,Gala,2020-01-01,huge",
         "vigour", "dwarf, semi-dwarf, standard"),
    ],
)  # fmt: skip
def test_a_word_that_is_none_of_those_known_lists_them(
    kind: str, header: str, row: str, column: str, offered: str
) -> None:
    refusal = one_refusal(kind, header, row)
    assert refusal.column == column
    assert refusal.value in row
    assert refusal.reason == "not one of the words known here"
    assert offered in refusal.todo


def test_words_are_known_without_case() -> None:
    result = parsed("thinnings", "tree,date,action", "A,2026-05-01,STRIP")
    assert result.rows.loc[2, "action"] == "strip"


# Text


HOSTILE = [
    "Robert'); DROP TABLE trees;--",
    "<script>alert('x')</script>",
    "🍎🍐 Bäumchen",
    "תפוח 3",
    "\u202egnp.exe",
    "=HYPERLINK(\"http://x\")",
    "[bold]not markup[/bold]",
    "%s %(a)s {0} $HOME `id`",
    "../../etc/passwd",
    "NULL",
    "nan",
    "None",
    "0",
    "a" * MOST_CELL,
]  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_any_text_is_taken_as_it_is(name: str) -> None:
    frame = pd.DataFrame(
        {"tree": [name], "date": ["2026-05-01"], "weight_kg": ["1"], "note": [name]},
        index=[2],
        dtype=object,
    )
    result = parse("picks", TextTable(frame, "picks.csv", "utf-8", ",", ""))
    assert result.refused == []
    assert result.rows.loc[2, "tree"] == name
    assert result.rows.loc[2, "note"] == name


@pytest.mark.parametrize("sign", ["\x1b[31m", "\x07", "\x9b2J", "\x7f", "\x0b"])
def test_what_commands_a_terminal_is_refused(sign: str) -> None:
    refusal = one_refusal("picks", "tree,date,weight_kg,note", f"A,2026-05-01,1,red{sign} x")
    assert refusal.column == "note"
    assert refusal.reason == "the text holds a control character"
    assert sign[0] not in refusal.value


def test_a_note_may_run_over_lines() -> None:
    result = parsed("picks", "tree,date,weight_kg,note", "A,2026-05-01,1,one\n\ttwo\r\nthree")
    assert result.rows.loc[2, "note"] == "one\n\ttwo\r\nthree"


def test_a_huge_cell_is_refused_and_not_quoted_in_full() -> None:
    refusal = one_refusal("picks", "tree,date,weight_kg,note", f"A,2026-05-01,1,{'x' * 10_001}")
    assert refusal.reason == f"a cell may hold at most {MOST_CELL} characters"
    assert len(refusal.value) < 60


def test_a_cell_of_any_length_is_refused_by_line_and_hides_no_other(tmp_path: Path) -> None:
    """The csv module's own limit, 131,072 characters, would refuse the whole file."""
    path = tmp_path / "picks.csv"
    long = "x" * 200_000
    path.write_text(f"tree,date,weight_kg,note\nA,2026-05-01,1,{long}\nB,2026-05-01,2,y\n")
    result = parse("picks", read_table(path))
    assert [(r.line, r.column) for r in result.refused] == [(2, "note")]
    assert list(result.rows["tree"]) == ["B"]


def test_blanks_are_missing_and_never_nought() -> None:
    result = parsed(
        "picks",
        "tree,date,weight_kg,fruit_count,pass,graded_out_kg,cause,last,brix,note",
        "A,2026-05-01,1,,,,,,,  ",
    )
    row = result.rows.loc[2]
    assert row[["fruit_count", "pass_number", "graded_out_kg", "brix"]].isna().all()
    assert [row["cause"], row["last"], row["note"]] == [None, None, None]


# The rest of the file goes on


def test_good_rows_go_on_and_each_bad_one_is_refused_once_for_its_first_trouble() -> None:
    result = parsed(
        "picks",
        "tree,date,weight_kg,brix",
        "A,2026-05-01,1,12",
        ",yesterday,much,99",
        "A,2026-05-03,2,",
        "A,2026-05-04,2,sweet",
    )
    assert list(result.rows.index) == [2, 4]
    assert [(r.line, r.column) for r in result.refused] == [(3, "tree"), (5, "brix")]


def test_rows_with_cells_beyond_the_header_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "picks.csv"
    path.write_text("tree,date,weight_kg\nA,2026-05-01,12,5\nA,2026-05-02,12\n")
    result = parse("picks", read_table(path))
    assert list(result.rows.index) == [3]
    (refusal,) = result.refused
    assert (refusal.line, refusal.value) == (2, "5")
    assert refusal.reason == "the row has more cells than the header"
    assert "Quote" in refusal.todo


@settings(max_examples=60)
@given(st.lists(st.text(st.characters(codec="utf-8"), max_size=8), min_size=3, max_size=3))
def test_no_text_at_all_breaks_the_reader(cells: list[str]) -> None:
    frame = pd.DataFrame([cells], columns=["tree", "date", "weight_kg"], index=[2], dtype=object)
    result = parse("picks", TextTable(frame, "picks.csv", "utf-8", ",", ""))
    assert len(result.rows) + len(result.refused) == 1


@settings(max_examples=60)
@given(st.floats(0, 2000, allow_subnormal=False))
def test_a_weight_written_by_python_is_read_back_exactly(weight: float) -> None:
    result = parsed("picks", "tree,date,weight_kg", f"A,2026-05-01,{weight!r}")
    assert result.rows.loc[2, "weight_kg"] == weight


def test_a_header_without_a_unit_is_said_and_refused_where_it_looks_like_fahrenheit(
    tmp_path: Path,
) -> None:
    path = tmp_path / "weather.csv"
    path.write_text("site,date,tmin,tmax,precip\nA,2024-05-01,4.5,17,0\nA,2024-05-02,5,18,2\n")
    parsed = parse("weather", read_table(path))
    assert parsed.assumed_units == (
        "tmin was read in degC", "tmax was read in degC", "precip was read in mm",
    )  # fmt: skip
    path.write_text("site,date,tmin_c,tmax_c\nA,2024-05-01,4.5,17\n")
    assert parse("weather", read_table(path)).assumed_units == ()
    path.write_text("site,date,tmin,tmax\nA,2024-05-01,48,63\nA,2024-05-02,51,66.5\n")
    with pytest.raises(FileFormatError, match=r"63 in line 2, 66\.5 in line 3.*tmax_f"):
        parse("weather", read_table(path))


def test_a_quantity_in_two_units_is_refused_and_none_of_the_two_ignored() -> None:
    with pytest.raises(FileFormatError, match="both weight_kg and weight_lb"):
        parsed("picks", "tree,date,weight_kg,weight_lb", "A,2026-05-01,3,9")
