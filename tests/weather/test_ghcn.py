"""GHCN-Daily files against the published layout.

Menne et al. 2012, J. Atmos. Oceanic Technol. 29:897-910, and the archive's readme; the values are
in tests/reference/check_values.csv (line length and flag column from memory, the
by-year line opened).
"""

from __future__ import annotations

import csv
import gzip
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from harvest.errors import FileFormatError
from harvest.weather.ghcn import DLY_CHARACTERS, read_ghcn
from tests.thermal.reference_values import CHECK_VALUES
from tests.weather.open_records import record


def expected(topic: str) -> tuple[str, float | str]:
    """Input and expected value of one row of the table of published values."""
    with CHECK_VALUES.open(encoding="utf-8", newline="") as file:
        row = next(row for row in csv.DictReader(file) if row["topic"] == topic)
    value = row["expected"]
    return row["inputs"], float(value) if value.replace(".", "").isdigit() else value


def dly_line(station: str, month: str, element: str, values: list[str]) -> str:
    """A line of the fixed layout: each value five characters and three flags."""
    padded = [*values, *["-9999   "] * (31 - len(values))]
    return f"{station}{month.replace('-', '')}{element}" + "".join(padded)


SAMPLE = dly_line("USC00012345", "2020-04", "TMAX", ["  156  7", "-9999   ", "  402 I7"])


def test_fixed_line_has_the_published_length_values_and_flag(tmp_path: Path) -> None:
    assert expected("ghcn_dly_len")[1] == DLY_CHARACTERS == len(SAMPLE)
    assert SAMPLE[43] == expected("ghcn_dly_qflag3")[1]
    file = tmp_path / "USC00012345.dly"
    file.write_text(SAMPLE + "\n")
    read = read_ghcn(file)
    assert read.station == "USC00012345"
    assert read.flagged == 1
    assert read.days["date"].tolist() == [pd.Timestamp("2020-04-01")]
    assert read.days["tmax_c"].tolist() == [expected("ghcn_dly_value1")[1]]
    assert read.days["tmin_c"].isna().all()


def test_by_year_line_is_read_as_published(tmp_path: Path) -> None:
    line, value = expected("ghcn_csv")
    file = tmp_path / "2019.csv"
    file.write_text(f"{line}\n")
    days = read_ghcn(file).days
    assert days["date"].tolist() == [pd.Timestamp("2019-01-01")]
    assert days["tmin_c"].tolist() == [value]


def test_wind_is_tenths_of_a_metre_per_second_and_flagged_wind_is_left_out(tmp_path: Path) -> None:
    """The archive's readme: AWND is the average daily wind speed [tenths of m/s]."""
    file = tmp_path / "USC00012345.dly"
    wind = dly_line("USC00012345", "2020-04", "AWND", ["   25  W", "  310 XW"])
    file.write_text(f"{SAMPLE}\n{wind}\n")
    read = read_ghcn(file)
    assert read.days["wind_kmh"].tolist() == [9.0]
    assert read.days["tmax_c"].tolist() == [expected("ghcn_dly_value1")[1]]
    assert read.flagged == 2


def written_as_dly(rows: pd.DataFrame) -> str:
    lines = []
    for month, days in rows.groupby(rows["date"].dt.strftime("%Y-%m")):
        for element, column in (("TMAX", "tmax_c"), ("TMIN", "tmin_c")):
            tenths = np.round(days[column] * 10).astype(int)
            cells = [f"{value:5d}  S" for value in tenths]
            lines.append(dly_line("SZ000001940", str(month), element, cells))
        lines.append(dly_line("SZ000001940", str(month), "SNWD", []))
    return "\n".join(lines) + "\n"


def test_both_layouts_of_an_open_record_give_its_days_back(tmp_path: Path) -> None:
    rows = record("basel", "1999-01-01", "2004-12-31")
    fixed = tmp_path / "SZ000001940.dly"
    fixed.write_text(written_as_dly(rows))
    lines = []
    for row in rows.itertuples():
        for element, value in (("TMAX", row.tmax_c), ("TMIN", row.tmin_c)):
            lines.append(f"SZ000001940,{row.date:%Y%m%d},{element},{round(value * 10)},,,S,")
    lines.insert(3, "AE000041196,19990102,TMIN,140,,,S,")
    by_year = tmp_path / "years.csv.gz"
    by_year.write_bytes(gzip.compress("\n".join(lines).encode()))
    for read in (read_ghcn(fixed), read_ghcn(by_year, "sz000001940")):
        assert read.flagged == 0
        pd.testing.assert_frame_equal(
            read.days[["date", "tmin_c", "tmax_c"]], rows[["date", "tmin_c", "tmax_c"]]
        )


def test_days_that_do_not_exist_are_no_days(tmp_path: Path) -> None:
    file = tmp_path / "a.dly"
    file.write_text(dly_line("USC00012345", "2021-02", "TMIN", ["   10   "] * 31) + "\n")
    days = read_ghcn(file).days
    assert len(days) == 28
    assert days["date"].max() == pd.Timestamp("2021-02-28")


def test_a_by_year_file_may_begin_with_its_columns_names(tmp_path: Path) -> None:
    """The header of the by-year files in the archive's open bucket (from memory)."""
    line, value = expected("ghcn_csv")
    file = tmp_path / "2019.csv"
    file.write_text(f"ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME\n{line}\n")
    assert read_ghcn(file).days["tmin_c"].tolist() == [value]


def test_a_value_given_twice_differently_is_left_out_and_counted(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    days = [("TMIN", "01", 10), ("TMIN", "01", 10), ("TMIN", "02", 20), ("TMIN", "02", 90)]
    days += [("TMAX", "01", 50), ("TMAX", "02", 60)]
    file.write_text("".join(f"A,202001{day},{what},{value},,,S,\n" for what, day, value in days))
    read = read_ghcn(file)
    assert read.days["tmin_c"].fillna(-99).tolist() == [1.0, -99]
    assert read.days["tmax_c"].tolist() == [5.0, 6.0]
    assert (read.flagged, read.contradicted) == (0, 2)
    assert read.left_out[["date", "tmin_c", "tmax_c"]].to_numpy().tolist() == [
        [pd.Timestamp("2020-01-02"), True, False]
    ]


@pytest.mark.parametrize(
    ("text", "station", "said"),
    [
        ("A,20200101,TMIN,1,,,S,\nB,20200101,TMIN,1,,,S,\n", None, "Name it with --station ID"),
        ("A,20200101,TMIN,1,,,S,\n", "C", "must hold station C; given: A"),
        ("site,date,tmin\nHome,2020-01-01,3\n", None, r"fixed columns \(.dly\) or lines"),
        ("A,2020-01-01,TMIN,1,,,S,\n", None, "every line of a by-year file is"),
        ("A,20200101,TMIN,warm,,,S,\n", None, "every line of a by-year file is"),
        (
            "STATION,DATE,LATITUDE,N,E,TMAX,TMIN\nA,2020-01-01,1,2,3,4,5\n",
            None,
            "take the station's",
        ),
        (SAMPLE.replace("  156", "  1x6"), None, "31 values of five characters"),
        ("", None, "fixed columns"),
    ],
)
def test_what_is_wrong_with_a_file_is_said(
    tmp_path: Path, text: str, station: str | None, said: str
) -> None:
    file = tmp_path / "a.csv"
    file.write_text(text)
    with pytest.raises(FileFormatError, match=said):
        read_ghcn(file, station)


def test_a_file_that_is_not_there_or_breaks_off_is_said(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="readable; given: No such file or directory"):
        read_ghcn(tmp_path / "none.dly")
    half = gzip.compress((SAMPLE + "\n").encode() * 500)
    (tmp_path / "half.dly.gz").write_bytes(half[: len(half) // 2])
    with pytest.raises(FileFormatError, match="must be there and readable"):
        read_ghcn(tmp_path / "half.dly.gz")
