"""An on-site logger's file: any column names, either unit, a clock with summer time.

Rules of the clocks: the IANA time zone database through the standard library's zoneinfo.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from harvest.errors import FileFormatError, InputError
from harvest.weather.logger import LoggerLayout, clock_of, read_logger

ZURICH = "Europe/Zurich"
LAYOUT = LoggerLayout(time="Date Time", temperature="Temp", unit="C", clock=ZURICH)


def readings(
    first: str, last: str, *, zone: str = ZURICH, minutes: int = 10, name: str = "Temp"
) -> pd.DataFrame:
    """Readings from local midnight to local midnight, each with a temperature of its own."""
    times = pd.date_range(first, last, freq=f"{minutes}min", tz=zone, inclusive="left")
    return pd.DataFrame({"Date Time": times, name: np.arange(len(times)) * 0.01})


def written(
    rows: pd.DataFrame, path: Path, *, form: str = "%Y-%m-%d %H:%M:%S", separator: str = ","
) -> Path:
    local = rows.assign(**{"Date Time": rows["Date Time"].dt.tz_localize(None).dt.strftime(form)})
    text = local.to_csv(index=False, sep=separator, float_format="%.2f")
    path.write_text(text.replace(".", ",") if separator == ";" else text)
    return path


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        (ZURICH, "2025-03-30", 23),
        (ZURICH, "2025-10-26", 25),
        (ZURICH, "2025-07-01", 24),
        ("America/New_York", "2025-03-09", 23),
        ("America/New_York", "2025-11-02", 25),
        ("Australia/Melbourne", "2025-10-05", 23),
        ("Australia/Melbourne", "2025-04-06", 25),
        ("America/Havana", "2025-03-09", 23),  # the day has no midnight
        ("Australia/Lord_Howe", "2025-04-06", 24.5),
    ],
)
def test_days_on_which_the_clocks_change_hold_23_or_25_hours(
    tmp_path: Path, zone: str, day: str, hours: float
) -> None:
    """The reading of every ten minutes is 0.01 above the one before: highest less lowest tells
    how many readings went into the day."""
    before, after = (pd.Timestamp(day) + pd.Timedelta(days=d) for d in (-1, 2))
    file = written(readings(str(before.date()), str(after.date()), zone=zone), tmp_path / "a.csv")
    read = read_logger(file, replace(LAYOUT, clock=zone), zone)
    assert read.partial_days == 0
    assert read.unreadable == 0
    row = read.days.set_index("date").loc[day]
    assert row["tmax_c"] - row["tmin_c"] == pytest.approx((hours * 6 - 1) * 0.01)
    assert len(read.days) == 3


def test_the_hour_that_comes_twice_is_told_apart_by_order_newest_first_too(tmp_path: Path) -> None:
    rows = readings("2025-10-25", "2025-10-28")
    forward = read_logger(written(rows, tmp_path / "a.csv"), LAYOUT, ZURICH)
    back = read_logger(written(rows[::-1], tmp_path / "b.csv"), LAYOUT, ZURICH)
    pd.testing.assert_frame_equal(forward.days, back.days)
    utc = read_logger(
        written(rows.assign(**{"Date Time": rows["Date Time"].dt.tz_convert("UTC")}),
                tmp_path / "c.csv"),
        replace(LAYOUT, clock="UTC"), ZURICH,
    )  # fmt: skip
    pd.testing.assert_frame_equal(forward.days, utc.days)


@pytest.mark.parametrize(
    ("zone", "day"), [(ZURICH, "2025-10-26"), ("Pacific/Auckland", "2025-04-06")]
)
def test_readings_an_hour_apart_give_the_hour_that_comes_twice_two_temperatures(
    tmp_path: Path, zone: str, day: str
) -> None:
    last = pd.Timestamp(day) + pd.Timedelta(days=2)
    rows = readings(day, str(last.date()), zone=zone, minutes=60)
    for file in (written(rows, tmp_path / "a.csv"), written(rows[::-1], tmp_path / "b.csv")):
        hours = read_logger(file, replace(LAYOUT, clock=zone), zone).hours
        assert hours is not None
        told = hours.temp_c.ravel()
        assert told[~np.isnan(told)].tolist() == pytest.approx(rows["Temp"].tolist())


def test_a_clock_that_is_never_changed_is_moved_to_the_sites_days(tmp_path: Path) -> None:
    rows = readings("2025-06-01", "2025-06-04")
    winter = rows.assign(**{"Date Time": rows["Date Time"].dt.tz_convert("Etc/GMT-1")})
    file = written(winter, tmp_path / "a.csv")
    days = read_logger(file, replace(LAYOUT, clock="+01:00"), ZURICH).days
    assert [str(day.date()) for day in days["date"]] == ["2025-06-01", "2025-06-02", "2025-06-03"]
    assert days["tmin_c"].iloc[0] == 0.0
    taken_for_summer_time = read_logger(file, LAYOUT, ZURICH).days
    assert taken_for_summer_time["tmin_c"].iloc[0] == 0.06


def test_times_that_do_not_exist_hint_at_a_clock_that_is_never_changed(tmp_path: Path) -> None:
    times = pd.date_range("2025-03-29", "2025-04-01", freq="10min", inclusive="left")
    rows = pd.DataFrame({"Date Time": times.strftime("%Y-%m-%d %H:%M"), "Temp": 5.0})
    rows.to_csv(tmp_path / "a.csv", index=False)
    read = read_logger(tmp_path / "a.csv", LAYOUT, ZURICH)
    assert read.unreadable == 6
    assert "6 readings stand at times that Europe/Zurich left out" in read.notes[0]


def test_stamps_with_their_own_offset_need_no_clock(tmp_path: Path) -> None:
    rows = readings("2025-10-25", "2025-10-28")
    stamped = rows.assign(**{"Date Time": [t.isoformat() for t in rows["Date Time"]]})
    stamped.to_csv(tmp_path / "a.csv", index=False)
    plain = read_logger(written(rows, tmp_path / "b.csv"), LAYOUT, ZURICH)
    read = read_logger(tmp_path / "a.csv", replace(LAYOUT, clock="Asia/Tokyo"), ZURICH)
    pd.testing.assert_frame_equal(read.days, plain.days)


def test_fahrenheit_decimal_commas_and_lines_above_the_header(tmp_path: Path) -> None:
    """212 degF and 32 degF are 100 and 0 degC; here 50 and 68 degF are 10 and 20."""
    rows = readings("2025-05-01", "2025-05-03", name="Temp, °F")
    rows["Temp, °F"] = np.where(np.arange(len(rows)) % 144 < 72, 50.0, 68.0)
    file = written(rows, tmp_path / "a.csv", form="%d.%m.%Y %H:%M", separator=";")
    plain = file.read_text()
    file.write_bytes(("Logger 7\nSerial;123\n\n" + plain).encode("cp1252"))
    layout = LoggerLayout(
        time="Date Time", temperature="Temp, °F", unit="F", clock=ZURICH,
        time_format="%d,%m,%Y %H:%M",
    )  # fmt: skip
    days = read_logger(file, layout, ZURICH).days
    assert days["tmin_c"].tolist() == [10.0, 10.0]
    assert days["tmax_c"].tolist() == [20.0, 20.0]


def test_date_and_time_in_two_columns_rain_in_inches_and_wind_in_mph(tmp_path: Path) -> None:
    rows = readings("2025-05-01", "2025-05-03", minutes=30)
    local = rows["Date Time"].dt.tz_localize(None)
    table = pd.DataFrame(
        {"Day": local.dt.strftime("%m/%d/%Y"), "Clock": local.dt.strftime("%I:%M %p"),
         "T": rows["Temp"], "Rain": np.where(np.arange(len(rows)) == 5, 0.5, 0.0),
         "Wind": np.where(np.arange(len(rows)) == 7, 999, 10)}
    )  # fmt: skip
    table.to_csv(tmp_path / "a.csv", index=False)
    layout = LoggerLayout(
        time="Clock", date="Day", temperature="T", unit="C", clock=ZURICH,
        time_format="%m/%d/%Y %I:%M %p", rain="Rain", rain_unit="in",
        wind="Wind", wind_unit="mph",
    )  # fmt: skip
    days = read_logger(tmp_path / "a.csv", layout, ZURICH).days
    assert days["precip_mm"].tolist() == [12.7, 0.0]
    # NIST SP 811, B.8: a mile is 1.609344 km; a wind that cannot be is left out of the mean.
    assert days["wind_kmh"].tolist() == [16.09, 16.09]


def test_days_with_a_hole_and_half_days_at_the_ends_are_left_out(tmp_path: Path) -> None:
    rows = readings("2025-05-01", "2025-05-06")
    clock = rows["Date Time"]
    hole = clock.between(
        pd.Timestamp("2025-05-02 12:00", tz=ZURICH), pd.Timestamp("2025-05-02 14:30", tz=ZURICH)
    )
    small = clock.between(
        pd.Timestamp("2025-05-03 12:00", tz=ZURICH), pd.Timestamp("2025-05-03 13:00", tz=ZURICH)
    )
    early = clock < pd.Timestamp("2025-05-01 09:00", tz=ZURICH)
    read = read_logger(written(rows[~hole & ~small & ~early], tmp_path / "a.csv"), LAYOUT, ZURICH)
    assert [day.day for day in read.days["date"]] == [3, 4, 5]
    assert read.partial_days == 2


def test_a_broken_sensors_readings_are_left_out_and_counted(tmp_path: Path) -> None:
    """-127 is what a common one-wire sensor gives when it is unplugged (common practice, no
    source)."""
    rows = readings("2025-05-01", "2025-05-03")
    rows.loc[[10, 200], "Temp"] = [-127.0, 999.9]
    read = read_logger(written(rows, tmp_path / "a.csv"), LAYOUT, ZURICH)
    assert read.impossible == 2
    assert len(read.days) == 2
    assert read.days["tmin_c"].min() >= 0


def test_readings_of_one_moment_that_cannot_both_be_right_do_not_count(tmp_path: Path) -> None:
    """Two loggers in one file, or a clock with summer time read as one without."""
    rows = readings("2025-05-01", "2025-05-03")
    other = rows[150:153].assign(Temp=lambda some: some["Temp"] + 30)
    read = read_logger(
        written(pd.concat([rows, other, rows[:9]]), tmp_path / "a.csv"), LAYOUT, ZURICH
    )
    assert read.days["tmax_c"].tolist() == [1.43, 2.87]
    assert "6 readings stand at the same time as another" in read.notes[0]
    half_minutes = pd.concat([rows, rows.assign(Temp=rows["Temp"] + 0.5)])
    read = read_logger(written(half_minutes, tmp_path / "b.csv"), LAYOUT, ZURICH)
    assert read.days["tmax_c"].tolist() == [1.93, 3.37]
    assert not read.notes


def test_a_few_lines_longer_than_the_header_are_left_out(tmp_path: Path) -> None:
    """A cell past the header is a decimal comma cut in two as likely as a comma in a remark."""
    file = written(readings("2025-05-01", "2025-05-03"), tmp_path / "a.csv")
    lines = file.read_text().splitlines()
    lines[5] = lines[5].split(",")[0] + ",-40,5"
    file.write_text("\n".join(lines[:9] + [f"{line}," for line in lines[9:]]))
    read = read_logger(file, LAYOUT, ZURICH)
    assert read.unreadable == 1
    assert read.days["tmin_c"].min() == 0.0


def test_text_of_two_bytes_a_letter_that_breaks_off_is_read_to_there(tmp_path: Path) -> None:
    file = written(readings("2025-05-01", "2025-05-03"), tmp_path / "a.csv")
    file.write_bytes(file.read_text().encode("utf-16")[:-1])
    assert len(read_logger(file, LAYOUT, ZURICH).days) == 2


def test_readings_far_apart_are_said_to_miss_the_extremes(tmp_path: Path) -> None:
    file = written(readings("2025-05-01", "2025-05-06", minutes=180), tmp_path / "a.csv")
    assert "3.0 h apart" in read_logger(file, LAYOUT, ZURICH).notes[0]
    file = written(readings("2025-05-01", "2025-05-06", minutes=720), tmp_path / "b.csv")
    with pytest.raises(
        FileFormatError, match=r"given: 12.0 h apart. Days .* leave out --as logger"
    ):
        read_logger(file, LAYOUT, ZURICH)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("When,Temp\n2025-05-01 00:00,5\n", "must name the columns Date Time, Temp"),
        ("Date Time,Temp\n", "must name the columns"),
        ("Date Time,Temp\n01/05/2025 00:00,5\n01/05/2025 00:10,5\n", "times must be readable"),
        ("Date Time,Temp\n2025-05-01 00:00,warm\n", "column Temp must hold numbers"),
        ("Date Time,Temp\n2025-05-01 00:00,5,3\n", "save the file with semicolons"),
        ("Date Time;Temp\n2025-05-01 00:00;5;3\n", "cells as the header; given: 1 longer lines"),
        ("PK\x03\x04 and so on", "given: a workbook. Save its sheet as CSV"),
        (
            "Date Time,Temp\n2025-05-12 00:00,5\n2025-13-05 00:00,5\n2025-05-11 00:00,5\n",
            "times must be readable; given: '2025-13-05 00:00'",
        ),
    ],
)
def test_a_file_that_does_not_fit_its_layout_is_said(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "a.csv").write_text(text)
    with pytest.raises(FileFormatError, match=said):
        read_logger(tmp_path / "a.csv", LAYOUT, ZURICH)


def test_units_and_clocks_must_be_known() -> None:
    with pytest.raises(InputError, match="temperatures are in C or F"):
        replace(LAYOUT, unit="K")
    with pytest.raises(InputError, match="a clock is a time zone or a fixed offset; given: 'Mars'"):
        replace(LAYOUT, clock="Mars")


def test_a_fixed_offset_is_the_offset_it_says() -> None:
    moment = datetime(2025, 1, 1, 12, tzinfo=clock_of("-05:30"))
    assert moment.astimezone(ZoneInfo("UTC")).hour == 17
    assert moment.astimezone(ZoneInfo("UTC")).minute == 30


def test_a_layout_survives_being_kept() -> None:
    layout = replace(LAYOUT, rain="Rain", time_format="%d/%m/%Y %H:%M")
    assert LoggerLayout.of_dict({**layout.as_dict(), "of a later version": "x"}) == layout
