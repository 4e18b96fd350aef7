"""Tables as people keep them: encodings, separators, line numbers, workbooks, and what is none."""

from __future__ import annotations

import csv
import io
import zipfile
from datetime import date, datetime, time
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest.errors import FileFormatError
from harvest.store.tablefile import EXTRA, TextTable, read_table

TEXT = "tree,note\r\nMüller,Grüße – 5 €\r\nPêche,à point\r\n"


def read(folder: Path, raw: bytes, name: str = "table.csv") -> TextTable:
    path = folder / name
    path.write_bytes(raw)
    return read_table(path)


def rows(table: TextTable) -> list[list[str]]:
    return [list(row) for row in table.cells.to_numpy()]


# Encodings


@pytest.mark.parametrize(
    ("codec", "bom", "told"),
    [
        ("utf-8", b"", "utf-8"),
        ("utf-8", b"\xef\xbb\xbf", "utf-8-sig"),
        ("utf-16-le", b"\xff\xfe", "utf-16"),
        ("utf-16-be", b"\xfe\xff", "utf-16"),
        ("utf-16-le", b"", "utf-16-le"),
        ("utf-16-be", b"", "utf-16-be"),
        ("cp1252", b"", "cp1252"),
    ],
)
def test_text_comes_out_the_same_whatever_it_was_saved_as(
    tmp_path: Path, codec: str, bom: bytes, told: str
) -> None:
    table = read(tmp_path, bom + TEXT.encode(codec))
    assert table.encoding == told
    assert list(table.cells.columns) == ["tree", "note"]
    assert rows(table) == [["Müller", "Grüße – 5 €"], ["Pêche", "à point"]]


def test_latin_1_is_the_last_resort(tmp_path: Path) -> None:
    # 0x81 is no character in Windows-1252 (Unicode Consortium, CP1252.TXT).
    table = read(tmp_path, b"tree,note\nP\xeache,\x81\n")
    assert table.encoding == "latin-1"
    assert table.cells.iloc[0, 0] == "Pêche"


def test_accents_written_as_two_characters_become_one(tmp_path: Path) -> None:
    # Unicode Standard Annex 15: NFD "e" + U+0301 is canonically equivalent to NFC U+00E9.
    table = read(tmp_path, "tree\nPe\u0301che\n".encode())
    assert table.cells.iloc[0, 0] == "P\u00e9che"


# Separators, lines, ragged rows


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_separator_is_the_one_the_header_uses(tmp_path: Path, separator: str) -> None:
    lines = [["tree", "date", "note"], ["A", "2026-05-01", "x. y"]]
    table = read(tmp_path, "\n".join(separator.join(line) for line in lines).encode())
    assert table.separator == separator
    assert rows(table) == [lines[1]]


def test_each_row_keeps_the_line_it_stands_on(tmp_path: Path) -> None:
    raw = b'\n\ntree,note\n\nA,"one\ntwo\n\nthree"\n,,\n   \nB,"four\r\nfive"\n\nC,six\n'
    table = read(tmp_path, raw)
    assert list(table.cells.index) == [5, 11, 14]
    assert rows(table) == [["A", "one\ntwo\n\nthree"], ["B", "four\r\nfive"], ["C", "six"]]


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_lines_may_end_as_on_any_computer(tmp_path: Path, ending: str) -> None:
    table = read(tmp_path, ending.join(["tree,note", "A,x", "", "B,y"]).encode())
    assert list(table.cells.index) == [2, 4]
    assert rows(table) == [["A", "x"], ["B", "y"]]


def test_short_rows_are_filled_with_blanks_and_long_ones_keep_their_surplus(
    tmp_path: Path,
) -> None:
    table = read(tmp_path, b"tree,note\nA\nB,x,y,z\nC,x,,\n")
    assert list(table.cells["note"]) == ["", "x", "x"]
    assert list(table.cells[EXTRA]) == ["", "y z", ""]


def test_no_header_can_be_mistaken_for_the_surplus(tmp_path: Path) -> None:
    table = read(tmp_path, f"tree,_extra,{EXTRA}\nA,x,\n".encode())
    assert list(table.cells.columns) == ["tree", "_extra"]


def test_a_column_without_a_name_is_dropped_when_empty_and_numbered_when_not(
    tmp_path: Path,
) -> None:
    table = read(tmp_path, b",tree,,note,\n0,A,,x,\n1,B,,y,\n")
    assert list(table.cells.columns) == ["column 1 without a name", "tree", "note"]


def test_a_header_alone_is_a_table_without_rows(tmp_path: Path) -> None:
    table = read(tmp_path, b"tree,note\n")
    assert list(table.cells.columns) == ["tree", "note"]
    assert len(table.cells) == 0


CELLS = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=12)


@given(st.lists(st.lists(CELLS, min_size=3, max_size=3), min_size=1, max_size=8))
def test_what_the_csv_library_writes_is_read_back(cells: list[list[str]]) -> None:
    import tempfile
    import unicodedata

    out = io.StringIO(newline="")
    csv.writer(out).writerows([["tree", "date", "note"], *cells])
    with tempfile.TemporaryDirectory() as folder:
        table = read(Path(folder), out.getvalue().encode())
    kept = [
        [unicodedata.normalize("NFC", cell) for cell in row]
        for row in cells
        if any(cell.strip() for cell in row)
    ]
    assert rows(table) == kept


# What is no table


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"\n",
        b" \r\n\t\r\n",
        b"\xef\xbb\xbf",
        b"\xef\xbb\xbf\n",
        b"\xff\xfe",
        b"\xff\xfe\n\x00",
        b"\n\x00\n\x00",
        b",,,\n,,\n",
        "\u00a0\n".encode(),
        b"\x0c",
    ],
)
def test_a_file_without_content_says_what_belongs_there(tmp_path: Path, raw: bytes) -> None:
    with pytest.raises(FileFormatError, match=r"header row and records; given: an empty file") as e:
        read(tmp_path, raw)
    assert "column names in the first row" in e.value.todo
    assert "table.csv" in e.value.where


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match=r"nothing\.csv: a file must be there to read"):
        read_table(tmp_path / "nothing.csv")
    with pytest.raises(FileFormatError, match="a file must be there to read"):
        read_table(tmp_path)


@pytest.mark.parametrize(
    "raw",
    [
        bytes(range(256)) * 4,
        b"\x89PNG\r\n\x1a\n" + b"\x00\x01\x02\xff" * 50,
        # The first bytes of every workbook of the old kind (MS-CFB, 2.2: header signature).
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504),
        "tree,note\nA,x\n".encode("utf-32"),
        b"tree,note\n" + b"A,x\n" * 100 + b"B,\x00\n",
        b"\xff\xfe" + "tree".encode("utf-16-le") + b"\x00",
    ],
)
def test_bytes_that_are_no_text_are_named_so(tmp_path: Path, raw: bytes) -> None:
    with pytest.raises(FileFormatError, match=r"must be text \(CSV\) or .xlsx; given: bytes"):
        read(tmp_path, raw)


def test_a_stray_quotation_mark_is_found_on_its_line(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match=r"line 3: every row must be readable as CSV") as e:
        read(tmp_path, b'tree,note\nA,x\nB,"never closed\nC,y\n')
    assert "quotation mark" in e.value.todo
    with pytest.raises(FileFormatError, match="line 2: every row"):
        read(tmp_path, b'tree,note\nA,"x"y\n')


def test_a_column_named_twice_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="name of its own; given: date more than once"):
        read(tmp_path, b"tree,date,date\nA,2026-01-01,2026-01-02\n")


def test_a_file_larger_than_the_limit_is_not_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("harvest.store.tablefile.MOST_BYTES", 1024**2)
    with pytest.raises(FileFormatError, match="at most 1 MB; given: 2 MB"):
        read(tmp_path, b"tree\n" + b"A\n" * 1024**2)


# Workbooks


def workbook(folder: Path, cells: list[list[object]], name: str = "book.xlsx") -> Path:
    book = openpyxl.Workbook()
    assert book.active is not None
    for row in cells:
        book.active.append(row)
    book.save(folder / name)
    return folder / name


def test_a_workbooks_dates_numbers_and_words_come_as_their_csv_twins(tmp_path: Path) -> None:
    path = workbook(
        tmp_path,
        [
            ["tree", "date", "weight_kg", "fruit_count", "last", "note"],
            ["A", date(2026, 5, 1), 12.5, 80, True, None],
            [7, datetime(2026, 5, 1, 14, 30), 3.0, None, False, " Pe\u0301che "],
            [None, None, None, None, None, None],
            ["B", "2026-05-03", 0.25, 1e6, "yes", "=1+1"],
            ["C", time(6, 15), -0.5, 10**15, "", "#N/A"],
        ],
    )
    table = read_table(path)
    assert (table.encoding, table.name) == ("xlsx", "book.xlsx")
    assert list(table.cells.index) == [2, 3, 5, 6]
    assert rows(table)[0] == ["A", "2026-05-01", "12.5", "80", "yes", ""]
    assert rows(table)[1] == ["7", "2026-05-01T14:30:00", "3", "", "no", "P\u00e9che"]
    assert rows(table)[2][:5] == ["B", "2026-05-03", "0.25", "1000000", "yes"]
    assert rows(table)[3][1:4] == ["06:15:00", "-0.5", "1000000000000000"]


def test_a_text_file_named_as_a_workbook_is_read_as_the_text_it_is(tmp_path: Path) -> None:
    table = read(tmp_path, b"tree;note\nA;x\n", "book.xlsx")
    assert (table.encoding, table.separator) == ("utf-8", ";")
    assert rows(table) == [["A", "x"]]


def test_a_workbook_named_as_a_text_file_is_read_as_the_workbook_it_is(tmp_path: Path) -> None:
    path = workbook(tmp_path, [["tree"], ["A"]], "table.xlsx").rename(tmp_path / "table.csv")
    assert read_table(path).encoding == "xlsx"


def test_a_workbook_of_several_sheets_says_which_was_read(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    assert book.active is not None
    book.active.title = "Picks 2026"
    book.active.append(["tree"])
    book.active.append(["A"])
    book.create_sheet("Elsewhere").append(["other"])
    book.save(tmp_path / "book.xlsx")
    table = read_table(tmp_path / "book.xlsx")
    assert table.name == "book.xlsx, sheet Picks 2026"
    assert rows(table) == [["A"]]


def test_a_formula_that_nobody_worked_out_stands_as_it_is_written(tmp_path: Path) -> None:
    """openpyxl writes formulas without their values; a blank would pass for "not recorded"."""
    path = workbook(tmp_path, [["tree", "weight_kg"], ["A", "=2*6.2"], ["B", 3.5]])
    assert read_table(path).cells["weight_kg"].tolist() == ["=2*6.2", "3.5"]


def test_a_formula_that_came_to_nothing_is_blank(tmp_path: Path) -> None:
    """As spreadsheet programs save `=""`: a cell of text (t="str") whose value is empty (ECMA-376,
    part 1, 18.18.11)."""
    made = workbook(tmp_path, [["tree", "weight_kg"], ["A", '=""'], ["B", 3.5]], "made.xlsx")
    saved = tmp_path / "saved.xlsx"
    with zipfile.ZipFile(made) as old, zipfile.ZipFile(saved, "w") as new:
        for name in old.namelist():
            part = old.read(name)
            if name == "xl/worksheets/sheet1.xml":
                part = part.replace(b'<c r="B2">', b'<c r="B2" t="str">')
                assert b't="str"' in part
            new.writestr(name, part)
    assert read_table(saved).cells["weight_kg"].tolist() == ["", "3.5"]


def test_an_empty_sheet_is_named(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="given: an empty sheet 'Sheet'"):
        read_table(workbook(tmp_path, []))


@pytest.mark.parametrize("kept", [0.3, 0.7, 0.98])
def test_a_workbook_cut_short_is_named_so(tmp_path: Path, kept: float) -> None:
    raw = workbook(tmp_path, [["tree"], *([f"tree {n}"] for n in range(500))]).read_bytes()
    with pytest.raises(FileFormatError, match=r"cut\.xlsx: the workbook must be readable") as e:
        read(tmp_path, raw[: int(len(raw) * kept)], "cut.xlsx")
    assert "save it" in e.value.todo


def test_another_kind_of_archive_is_no_workbook(tmp_path: Path) -> None:
    import zipfile

    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
    with pytest.raises(FileFormatError, match="the workbook must be readable"):
        read_table(tmp_path / "a.zip")


def test_a_workbook_with_broken_insides_is_named_so(tmp_path: Path) -> None:
    import zipfile

    whole = workbook(tmp_path, [["tree"], ["A"]])
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(tmp_path / "b.xlsx", "w") as new:
        for item in old.namelist():
            text = old.read(item)
            new.writestr(item, text[: len(text) // 2] if "sheet1" in item else text)
    with pytest.raises(FileFormatError, match="the workbook must be readable"):
        read_table(tmp_path / "b.xlsx")


def test_a_small_workbook_that_unpacks_to_a_huge_one_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for number in range(5):
            packed.writestr(f"xl/{number}.xml", bytes(256 * 1024**2))
    assert path.stat().st_size < 4 * 1024**2
    with pytest.raises(FileFormatError, match="at most 1024 MB when unpacked; given: 1280 MB"):
        read_table(path)
