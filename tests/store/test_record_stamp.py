from __future__ import annotations

import shutil
from datetime import UTC, date, datetime
from pathlib import Path

from harvest.service import open_orchard
from harvest.service_calendar import calendar, mark_done
from harvest.service_people import add_person
from harvest.service_records import undo
from harvest.service_settings import change_settings
from harvest.store.history import Signature
from harvest.store.orchard import Orchard
from harvest.store.record_stamp import OF_WEATHER, RecordStamp
from tests.orchards import TODAY, plant, put

SIGNED = Signature("Ines", datetime(2026, 8, 12, 9, tzinfo=UTC))


def pick(orchard: Orchard, folder: Path, day: date) -> None:
    rows = [{"tree": "Apple 1", "date": day.isoformat(), "weight_kg": 4}]
    assert put(orchard, "picks", rows, folder).new == 1


def test_records_and_weather_move_theirs_and_marks_settings_and_people_none(
    address: str, tmp_path: Path
) -> None:
    orchard = open_orchard(address)
    stamp = RecordStamp(orchard)
    empty = stamp.now()
    assert stamp.now() == empty
    plant(orchard, tmp_path)
    planted = stamp.now()
    assert planted != empty
    done = mark_done(orchard, calendar(orchard, TODAY).items[0].code, TODAY, SIGNED)
    change_settings(orchard, {"units": "us"}, SIGNED)
    add_person(orchard, "Bo", "log", "seven green pears", SIGNED.at)
    assert stamp.now() == planted
    assert done.batch is not None
    undo(orchard, done.batch, signed=SIGNED)
    assert stamp.now() == planted
    weather = stamp.of(OF_WEATHER)
    pick(orchard, tmp_path, date(2025, 9, 20))
    picked = stamp.now()
    assert picked not in (empty, planted)
    assert stamp.of(OF_WEATHER) == weather
    day = {"site": "Home", "date": "2025-09-20", "tmin_c": 9, "tmax_c": 17}
    assert put(orchard, "weather", [day], tmp_path).new == 1
    assert stamp.now() != picked
    assert stamp.of(OF_WEATHER) != weather
    assert RecordStamp(orchard).now() == orchard.stamp()
    orchard.engine.dispose()


def test_a_restored_backup_moves_it(sqlite_address: str, tmp_path: Path) -> None:
    orchard = open_orchard(sqlite_address)
    plant(orchard, tmp_path)
    orchard.engine.dispose()
    shutil.copyfile(sqlite_address, tmp_path / "kept.sqlite")
    orchard, stamp = open_orchard(sqlite_address), RecordStamp(open_orchard(sqlite_address))
    stamp.now()
    pick(orchard, tmp_path, date(2025, 9, 20))
    before = stamp.now()
    orchard.engine.dispose()
    shutil.copyfile(tmp_path / "kept.sqlite", sqlite_address)
    assert stamp.now() != before
