"""What is read again after a change, and what is not."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from harvest.service import open_orchard
from harvest.store.latest import LatestTables
from harvest.store.reading import Tables, read_tables
from tests.orchards import TREES, plant, put


def kept(before: Tables, after: Tables) -> set[str]:
    """Kinds whose records were not read again."""
    same = {kind for kind, frame in before.frames.items() if frame is after.frames[kind]}
    return same | ({"weather"} if before.weather is after.weather else set())


def test_only_what_a_change_touched_is_read_again(address: str, tmp_path: Path) -> None:
    orchard = open_orchard(address)
    latest = LatestTables(orchard)
    plant(orchard, tmp_path)
    planted = latest.read()
    assert latest.read() is planted
    put(orchard, "picks", [{"tree": "Apple 1", "date": "2025-09-20", "weight_kg": 4}], tmp_path)
    picked = latest.read()
    assert len(picked.frames["picks"]) == len(planted.frames["picks"]) + 1
    # Trees get their latitude in every reading.
    assert kept(planted, picked) == {*planted.frames, "weather"} - {"picks", "trees"}
    moved = {"site": "Home", "latitude": 44.0, "longitude": 8.0}
    put(orchard, "sites", [moved], tmp_path)
    moved_site = latest.read()
    by_tree_alone = {"stages", "picks", "thinnings", "girths", "grafts"}
    assert kept(picked, moved_site) == by_tree_alone
    put(orchard, "trees", [{**TREES[0], "planted": "2015-01-15", "row": 3}], tmp_path)
    changed_tree = latest.read()
    assert kept(moved_site, changed_tree) == {"sites", "weather"}
    day = {"site": "Home", "date": "2025-09-20", "tmin_c": 9, "tmax_c": 17}
    put(orchard, "weather", [day], tmp_path)
    assert kept(changed_tree, latest.read()) == {*planted.frames} - {"trees"}
    for kind, frame in read_tables(orchard).frames.items():
        pd.testing.assert_frame_equal(frame, latest.read().frames[kind])
    orchard.engine.dispose()
