"""Records sorted into their seasons, through the store and the reference tables as they are.

The months of bloom and picking are common practice, no source; the seasons follow from the rule
that fruit belongs to the bloom before it.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from harvest.records import Records
from harvest.service import records as read
from harvest.store.orchard import Orchard, open_orchard
from harvest.tree_years import full_blooms
from tests.orchards import TODAY, Row, plant, put


@pytest.fixture
def planted(sqlite_address: str, tmp_path: Path) -> Orchard:
    orchard = open_orchard(sqlite_address)
    plant(orchard, tmp_path)
    return orchard


def seasons_of(
    orchard: Orchard, folder: Path, kind: str, rows: list[Row], as_of: date = TODAY
) -> list[int]:
    """Import rows, read them back, and give their seasons in the order of the rows."""
    report = put(orchard, kind, rows, folder)
    assert report.refused == ()
    frame = getattr(read(orchard, as_of), kind)
    assert frame["season"].dtype == np.int64
    keys = [(row["tree"] if "tree" in row else row["site"], str(row["date"])) for row in rows]
    owner = frame["tree"].where(frame["tree"].notna(), frame.get("site"))
    found = dict(
        zip(zip(owner, frame["date"].dt.strftime("%Y-%m-%d"), strict=True), frame["season"],
            strict=True)
    )  # fmt: skip
    return [int(found[key]) for key in keys]


def test_picks_keep_the_season_of_their_bloom(planted: Orchard, tmp_path: Path) -> None:
    cases = [
        ("Apple 1", "2024-09-20", 2024),
        ("Apple 1", "2025-11-08", 2025),
        ("Mandarin", "2025-12-20", 2025),
        ("Mandarin", "2026-01-20", 2025),
        ("Mandarin S", "2025-06-10", 2025),
        ("Mandarin S", "2025-07-20", 2025),
        ("Peach", "2025-12-22", 2026),
        ("Peach", "2026-01-12", 2026),
        ("Loquat", "2026-05-04", 2025),
        ("Apple 2", "2024-02-29", 2023),
    ]
    rows: list[Row] = [{"tree": t, "date": d, "weight_kg": 2.5} for t, d, _ in cases]
    assert seasons_of(planted, tmp_path, "picks", rows) == [season for *_, season in cases]


def test_a_late_orange_is_of_the_bloom_of_the_year_before(
    sqlite_address: str, tmp_path: Path
) -> None:
    """Valencia ripens 12 to 15 months from bloom and is picked beside the next year's flowers
    and young fruit (general handbook knowledge, from memory): both passes are of one crop."""
    orchard = open_orchard(sqlite_address)
    trees: list[Row] = [
        {"tree": "V", "site": "Plains", "species": "orange", "cultivar": "Valencia"},
        {"tree": "N", "site": "Plains", "species": "orange", "cultivar": "Washington Navel"},
    ]
    plant(orchard, tmp_path, trees)
    blooms: list[Row] = [
        {"tree": tree, "date": f"{year}-09-10", "bbch": 65}
        for tree in "VN"
        for year in (2023, 2024)
    ]
    assert seasons_of(orchard, tmp_path, "stages", blooms) == [2024, 2025, 2024, 2025]
    days = [("V", "2024-10-20"), ("V", "2025-01-25"), ("N", "2025-06-20")]
    picks: list[Row] = [{"tree": tree, "date": day, "weight_kg": 9} for tree, day in days]
    assert seasons_of(orchard, tmp_path, "picks", picks) == [2024, 2024, 2025]


def test_stages_of_bud_bloom_and_fruit(planted: Orchard, tmp_path: Path) -> None:
    cases = [
        # Apple in the north: buds in winter are those of the bloom to come.
        ("Apple 1", "2024-12-10", 0, 2025),
        ("Apple 1", "2025-03-20", 53, 2025),
        ("Apple 1", "2025-04-30", 65, 2025),
        ("Apple 1", "2025-06-01", 71, 2025),
        ("Apple 1", "2025-09-12", 87, 2025),
        ("Apple 1", "2025-11-20", 97, 2025),
        # Peach in the south: buds swell before the season turns in July.
        ("Peach", "2025-06-20", 51, 2026),
        ("Peach", "2025-09-10", 65, 2026),
        ("Peach", "2025-11-10", 75, 2026),
        ("Peach", "2026-01-12", 87, 2026),
        # Loquat: buds in September, flowers across New Year, ripe in May.
        ("Loquat", "2024-09-15", 55, 2024),
        ("Loquat", "2024-11-20", 61, 2024),
        ("Loquat", "2025-01-08", 65, 2024),
        ("Loquat", "2025-02-20", 71, 2024),
        ("Loquat", "2025-05-06", 87, 2024),
        # Mandarin: ripe after New Year.
        ("Mandarin", "2025-04-25", 65, 2025),
        ("Mandarin", "2026-01-15", 87, 2025),
    ]
    rows: list[Row] = [{"tree": t, "date": d, "bbch": b} for t, d, b, _ in cases]
    assert seasons_of(planted, tmp_path, "stages", rows) == [season for *_, season in cases]


def test_a_logged_early_bloom_takes_its_early_fruit_with_it(
    planted: Orchard, tmp_path: Path
) -> None:
    # Peach bloomed seven weeks earlier than usual there; the usual bloom would not allow
    # ripe fruit in September.
    pick: list[Row] = [{"tree": "Peach", "date": "2025-09-20", "weight_kg": 1}]
    assert seasons_of(planted, tmp_path, "picks", pick) == [2025]
    put(planted, "stages", [{"tree": "Peach", "date": "2025-07-10", "bbch": 65}], tmp_path)
    assert read(planted, TODAY).picks["season"].tolist() == [2026]


def test_thinning_belongs_to_the_bloom_it_stands_at_or_after(
    planted: Orchard, tmp_path: Path
) -> None:
    cases = [
        ("Apple 1", "2025-04-20", 2025),  # blossom taken off before full bloom
        ("Apple 1", "2025-06-25", 2025),
        ("Apple 1", "2026-06-25", 2026),
        ("Peach", "2025-10-30", 2026),
        ("Loquat", "2026-02-10", 2025),
        ("Mandarin S", "2026-01-05", 2026),
    ]
    rows: list[Row] = [{"tree": t, "date": d, "action": "thin"} for t, d, _ in cases]
    assert seasons_of(planted, tmp_path, "thinnings", rows) == [season for *_, season in cases]


def test_events_of_a_tree_follow_its_bloom_and_those_of_a_site_the_calendar(
    planted: Orchard, tmp_path: Path
) -> None:
    cases = [
        ({"tree": "Apple 1", "date": "2025-04-05", "event": "frost"}, 2025),
        ({"tree": "Apple 1", "date": "2025-10-30", "event": "no crop"}, 2025),
        ({"tree": "Mandarin", "date": "2026-01-10", "event": "frost"}, 2025),
        ({"tree": "Peach", "date": "2025-08-20", "event": "frost"}, 2026),
        ({"site": "Home", "date": "2025-04-20", "event": "frost"}, 2025),
        ({"site": "Plains", "date": "2025-09-20", "event": "hail"}, 2026),
        ({"site": "Plains", "date": "2026-02-20", "event": "hail"}, 2026),
    ]
    rows = [{"tree": "", "site": "", **row} for row, _ in cases]
    put(planted, "events", rows, tmp_path)
    frame = read(planted, TODAY).events
    assert frame["season"].dtype == np.int64
    owner = frame["tree"].where(frame["tree"].notna(), frame["site"])
    found = dict(zip(zip(owner, frame["date"], strict=True), frame["season"], strict=True))
    for row, season in cases:
        key = (row.get("tree", row.get("site")), pd.Timestamp(row["date"]))
        assert found[key] == season, row


def test_a_tree_moved_out_in_mid_season_keeps_its_seasons_and_stands_until_that_day(
    planted: Orchard, tmp_path: Path
) -> None:
    rows: list[Row] = [
        {"tree": "Apple 1", "date": "2025-08-30", "weight_kg": 12},
        {"tree": "Apple 1", "date": "2026-07-01", "weight_kg": 0.5},
    ]
    put(planted, "stages", [{"tree": "Apple 1", "date": "2026-05-02", "bbch": 65}], tmp_path)
    put(planted, "picks", rows, tmp_path)
    moved = [
        {"tree": "Apple 1", "site": "Home", "species": "apple", "cultivar": "Gala",
         "planted": "2015-01-15", "removed": "2026-07-03"}
    ]  # fmt: skip
    assert put(planted, "trees", moved, tmp_path).changed == 1

    def removed(as_of: date) -> dict[str, object]:
        trees: Records = read(planted, as_of)
        frame = trees.trees.set_index("tree")["removed"]
        return {str(tree): frame[tree] for tree in frame.index}

    assert pd.isna(removed(date(2026, 7, 2))["Apple 1"])
    assert removed(date(2026, 7, 3))["Apple 1"] == pd.Timestamp("2026-07-03")
    assert pd.isna(removed(TODAY)["Apple 2"])
    after = read(planted, TODAY)
    assert after.picks["season"].tolist() == [2025, 2026]
    assert after.stages["season"].tolist() == [2026]


def test_the_first_full_bloom_of_a_season_counts(planted: Orchard, tmp_path: Path) -> None:
    rows: list[Row] = [
        {"tree": "Apple 1", "date": "2025-05-02", "bbch": 65},
        {"tree": "Apple 1", "date": "2025-04-29", "bbch": 65},
        {"tree": "Apple 1", "date": "2025-04-22", "bbch": 61},
        {"tree": "Apple 1", "date": "2026-05-06", "bbch": 65},
        {"tree": "Loquat", "date": "2025-12-28", "bbch": 65},
        {"tree": "Loquat", "date": "2026-01-03", "bbch": 65},
    ]
    put(planted, "stages", rows, tmp_path)
    blooms = full_blooms(read(planted, TODAY).stages)
    assert list(blooms.columns) == ["tree", "season", "bloom"]
    found = {(tree, season): bloom for tree, season, bloom in blooms.itertuples(index=False)}
    assert found == {
        ("Apple 1", 2025): pd.Timestamp("2025-04-29"),
        ("Apple 1", 2026): pd.Timestamp("2026-05-06"),
        ("Loquat", 2025): pd.Timestamp("2025-12-28"),
    }


def test_an_orchard_without_records_has_seasons_for_none(planted: Orchard) -> None:
    known = read(planted, TODAY)
    for kind in ("stages", "picks", "thinnings", "events"):
        frame = getattr(known, kind)
        assert len(frame) == 0
        assert frame["season"].dtype == np.int64, kind
