"""Which day it is: as given, the demo's own, else today at the orchard's sites."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest

from harvest.cli.context import as_of_date, default_address, today_at
from harvest.errors import InputError
from harvest.service import Overview
from harvest.store.orchard import open_orchard
from tests.orchards import plant


def overview_of(zones: Sequence[tuple[str | None, float]]) -> Overview:
    """An orchard with sites in these zones and at these longitudes [deg]."""
    sites = pd.DataFrame(
        {
            "site": [str(number) for number in range(len(zones))],
            "timezone": pd.Series([zone for zone, _ in zones], dtype=object),
            "longitude": [longitude for _, longitude in zones],
        }
    )
    trees = pd.DataFrame({"tree": []})
    return Overview("", False, None, "", sites=sites, trees=trees, seasons=())


# tz database: Kiritimati keeps UTC+14, Pago Pago UTC-11, Auckland UTC+13 in southern summer,
# Lord Howe UTC+10:30 in winter, New York UTC-4 in summer.
@pytest.mark.parametrize(
    ("now", "zone", "today"),
    [
        ("2026-05-10T09:59", "Pacific/Kiritimati", "2026-05-10"),
        ("2026-05-10T10:00", "Pacific/Kiritimati", "2026-05-11"),
        ("2026-05-10T10:59", "Pacific/Pago_Pago", "2026-05-09"),
        ("2026-05-10T11:00", "Pacific/Pago_Pago", "2026-05-10"),
        ("2025-12-31T10:59", "Pacific/Auckland", "2025-12-31"),
        ("2025-12-31T11:00", "Pacific/Auckland", "2026-01-01"),
        ("2026-07-01T13:29", "Australia/Lord_Howe", "2026-07-01"),
        ("2026-07-01T13:30", "Australia/Lord_Howe", "2026-07-02"),
        ("2026-05-10T03:59", "America/New_York", "2026-05-09"),
    ],
)
def test_today_is_the_date_at_the_site(now: str, zone: str, today: str) -> None:
    moment = datetime.fromisoformat(now).replace(tzinfo=UTC)
    assert today_at(overview_of([(zone, 0.0)]), moment) == date.fromisoformat(today)


@pytest.mark.parametrize("zone", [None, "Nowhere/Land"])
@pytest.mark.parametrize(
    ("longitude", "today"), [(0.0, "2026-05-10"), (-1.0, "2026-05-09"), (179.9, "2026-05-10")]
)
def test_a_site_without_a_known_zone_goes_by_the_sun(
    zone: str | None, longitude: float, today: str
) -> None:
    moment = datetime(2026, 5, 10, 0, 2, tzinfo=UTC)
    assert today_at(overview_of([(zone, longitude)]), moment) == date.fromisoformat(today)


def test_sites_on_both_sides_of_the_date_line_share_the_later_day() -> None:
    seen = overview_of([("Pacific/Pago_Pago", -170.7), ("Pacific/Kiritimati", -157.4)])
    assert today_at(seen, datetime(2026, 5, 10, 10, 30, tzinfo=UTC)) == date(2026, 5, 11)


def test_an_orchard_without_sites_goes_by_the_computer() -> None:
    now = datetime(2026, 5, 10, 12, 0, tzinfo=UTC)
    assert today_at(overview_of([]), now) == now.astimezone().date()


def test_the_as_of_date_is_as_given_else_the_demos_else_today(
    demo: Path, sqlite_address: str, tmp_path: Path
) -> None:
    invented, real = open_orchard(str(demo)), open_orchard(sqlite_address)
    plant(real, tmp_path)
    assert as_of_date(invented, "2025-05-10") == date(2025, 5, 10)
    assert as_of_date(invented, None) == date(2026, 8, 12)
    now = datetime.now(UTC).date()
    assert as_of_date(real, None) - now <= timedelta(days=1)
    assert as_of_date(real, None) >= now
    with pytest.raises(InputError, match="a date is written YYYY-MM-DD; given: 'soon'"):
        as_of_date(real, "soon")


def test_the_users_own_orchard_lies_in_the_data_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    # XDG Base Directory Specification 0.8: $XDG_DATA_HOME, else ~/.local/share.
    monkeypatch.setenv("XDG_DATA_HOME", "/somewhere")
    assert default_address() == "/somewhere/harvest/orchard.sqlite"
    monkeypatch.delenv("XDG_DATA_HOME")
    monkeypatch.setenv("HOME", "/home/ada")
    assert default_address() == "/home/ada/.local/share/harvest/orchard.sqlite"
