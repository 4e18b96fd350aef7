"""A tree grafted over counts as two: what it did before stays with what it was."""

from __future__ import annotations

import dataclasses
from datetime import date, timedelta
from pathlib import Path

import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from harvest.grafting import OF_ONE_LIFE
from harvest.records import Records
from harvest.seasons import leaf
from harvest.service import crop_load, yields
from harvest.service_calendar import calendar_file
from harvest.service_known import Known
from harvest.service_yields import crop_estimate
from harvest.store.orchard import Orchard
from harvest.store.reading import read_records, read_tables
from tests.orchards import TODAY, plant, put

OLD = "Apple 1 (Gala, until 2020-03-10)"


def orchard_with(orchard: Orchard, folder: Path) -> None:
    plant(orchard, folder)
    for kind, value in (("picks", {"weight_kg": 9}), ("stages", {"bbch": 65}),
                        ("girths", {"girth_cm": 30}), ("sprays", {"product": "S",
                        "withholding_days": 7})):  # fmt: skip
        days = ("2019-04-20", "2019-09-01", "2021-04-22", "2021-09-03")
        put(orchard, kind, [{"tree": t, "date": d, **value}
                            for t in ("Apple 1", "Apple 2") for d in days], folder)  # fmt: skip
    rows = [{"tree": "apple 1", "date": "2020-03-10", "cultivar": "discovery"}]
    assert put(orchard, "grafts", rows, folder).new == 1


def test_before_and_after_are_trees_of_their_own(orchard: Orchard, tmp_path: Path) -> None:
    orchard_with(orchard, tmp_path)
    known = read_records(orchard, TODAY)
    trees = known.trees.set_index("tree")
    assert trees.loc["Apple 1", "cultivar"] == "Discovery"
    assert trees.loc["Apple 1", "planted"] == trees.loc["Apple 1", "grafted"]
    assert trees.loc[OLD, "cultivar"] == "Gala"
    assert trees.loc[OLD, "removed"] == pd.Timestamp("2020-03-09")
    assert set(trees.loc[[OLD, "Apple 1"], "own_name"]) == {"Apple 1"}
    for kind in ("picks", "stages", "girths"):
        of = getattr(known, kind).groupby("tree")["date"].agg(["min", "max"])
        assert of.loc[OLD, "max"].year == 2019
        assert of.loc["Apple 1", "min"].year == 2021
        assert len(getattr(known, kind)) == 8
    # What was sprayed on it is never dropped by a graft.
    assert (known.sprays["tree"] == "Apple 1").sum() == 4
    # Leaves are counted anew: grafted in the dormant season, the first leaf is that year's.
    assert leaf(trees.loc["Apple 1", "planted"].date(), 2020, 51.5) == 1


def test_before_the_graft_it_is_the_tree_it_was(orchard: Orchard, tmp_path: Path) -> None:
    orchard_with(orchard, tmp_path)
    then = read_records(orchard, date(2020, 3, 9))
    assert then.trees.set_index("tree").loc["Apple 1", "cultivar"] == "Gala"
    assert OLD not in set(then.trees["tree"])
    tables = read_tables(orchard)
    for day in (date(2020, 3, 9), date(2020, 3, 10), date(2019, 9, 1)):
        same(tables.known(TODAY).until(day), read_records(orchard, day))


def same(one: Records, two: Records) -> None:
    for field in ("trees", *OF_ONE_LIFE):
        pd.testing.assert_frame_equal(getattr(one, field), getattr(two, field))


def test_forecasts_and_pools_follow(orchard: Orchard, tmp_path: Path) -> None:
    orchard_with(orchard, tmp_path)
    known = Known(read_records(orchard, date(2022, 5, 1)))
    by_tree = {(e.tree, e.event): e for e in known.forecast}
    assert by_tree["Apple 1", "ripe"].cultivar == "Discovery"
    assert not any(tree == OLD for tree, _ in by_tree)
    # New wood bears nothing in its first leaf: no ripe date is made up, and no crop.
    soon = Known(read_records(orchard, date(2020, 5, 1)))
    new = next(e for e in soon.forecast if (e.tree, e.event) == ("Apple 1", "ripe"))
    assert new.status == "unknown"
    assert "Grafted over on 10 Mar 2020: the new wood bears no fruit" in new.warnings[0]
    assert b"BEGIN:VEVENT" in calendar_file(orchard, date(2020, 5, 1))
    crop = {each.tree: each for each in crop_estimate(orchard, date(2020, 5, 1))}
    assert crop["Apple 1"].kg[0.9] == 0 < crop["Apple 2"].kg[0.1]
    pools = known.past_seasons.groupby("cultivar")["tree"].agg(set)
    assert pools["Gala"] == {"Apple 2", OLD}
    assert pools["Discovery"] == {"Apple 1"}


DAYS = st.integers(0, 60).map(lambda n: date(2020, 2, 1) + timedelta(days=n))


@settings(max_examples=80, deadline=None)
@given(
    grafts=st.lists(st.tuples(st.sampled_from("AB"), DAYS), max_size=5, unique=True),
    seen=st.lists(st.tuples(st.sampled_from("AB"), DAYS), max_size=8),
    later=DAYS,
    earlier=DAYS,
)
def test_law_no_later_graft_is_known_earlier(
    grafts: list[tuple[str, date]], seen: list[tuple[str, date]], later: date, earlier: date
) -> None:
    """What is known of an earlier day is the same by way of a later one, or by the day's alone."""
    earlier, later = sorted((earlier, later))
    made = records(grafts, seen)
    by_way, alone = made.until(later).until(earlier), only(made, earlier).until(earlier)
    same(by_way, alone)
    standing = by_way.trees[by_way.trees["tree"] == by_way.trees["own_name"]]
    assert sorted(standing["tree"]) == ["A", "B"]
    assert len(by_way.picks) == sum(day <= earlier for _, day in seen)
    lives = by_way.trees.set_index("tree")
    for row in by_way.picks.itertuples():
        life = lives.loc[row.tree]
        assert life["planted"] <= row.date
        assert not life["removed"] < row.date


def records(grafts: list[tuple[str, date]], seen: list[tuple[str, date]]) -> Records:
    trees = pd.DataFrame({
        "tree": ["A", "B"], "site": "Home", "species": "apple", "cultivar": "Gala",
        "planted": pd.to_datetime(["2010-01-01"] * 2).astype("datetime64[s]"),
        "pollen_group": "B", "removed": pd.to_datetime([None, None]).astype("datetime64[s]"),
    })  # fmt: skip
    words = ("tree", "site", "species", "cultivar", "pollen_group")
    trees = trees.astype(dict.fromkeys(words, object))
    empty = dated([], tree=[])
    own = sorted(seen)
    others = ("weather", "stages", "thinnings", "girths", "sprays", "events")
    made = dict.fromkeys(others, empty)
    ahead = empty.assign(issued=empty["date"])
    over = sorted(grafts)
    return Records(
        date(2021, 1, 1), sites=pd.DataFrame({"site": ["Home"]}), trees=trees, weather_ahead=ahead,
        picks=dated([day for _, day in own], tree=[tree for tree, _ in own]),
        grafts=dated([day for _, day in over], tree=[tree for tree, _ in over],
                     cultivar=[f"C{n}" for n in range(len(over))], species=None),
        **made,
    )  # fmt: skip


def dated(days: list[date], **columns: object) -> pd.DataFrame:
    frame = pd.DataFrame({"date": pd.Series(days, dtype="datetime64[s]"), **columns})
    return frame.assign(**{n: frame[n].astype(object) for n in columns})


def only(made: Records, day: date) -> Records:
    """As if nothing later had been written down."""
    assert made.grafts is not None
    stamp = pd.Timestamp(day)
    return dataclasses.replace(
        made,
        grafts=made.grafts[made.grafts["date"] <= stamp],
        picks=made.picks[made.picks["date"] <= stamp],
    )


def test_the_season_of_the_graft_is_the_new_trees(orchard: Orchard, tmp_path: Path) -> None:
    """Grafted in the north in spring, and in the south in summer, when it first leafs next year."""
    orchard_with(orchard, tmp_path)
    rows = [{"tree": "Peach", "date": "2022-02-01", "cultivar": "Seedless"}]
    assert put(orchard, "grafts", rows, tmp_path).new == 1
    seasons: dict[str, set[int]] = {}
    for row in yields(orchard, TODAY):
        seasons.setdefault(row.tree, set()).add(row.season)
    assert max(seasons[OLD]) == 2019
    assert min(seasons["Apple 1"]) == 2020
    (old,) = [name for name in seasons if name.startswith("Peach (")]
    assert max(seasons[old]) == 2022
    assert min(seasons["Peach"]) == 2023


def test_a_crop_of_the_old_wood_in_the_season_of_the_graft_is_kept(
    orchard: Orchard, tmp_path: Path
) -> None:
    orchard_with(orchard, tmp_path)
    late = [{"tree": "Apple 2", "date": "2021-05-20", "cultivar": "Discovery"}]
    assert put(orchard, "grafts", late, tmp_path).new == 1
    put(orchard, "events", [{"tree": "Apple 2", "site": "", "date": "2021-05-01",
                             "event": "no crop"}], tmp_path)  # fmt: skip
    rows = [row for row in yields(orchard, TODAY) if row.tree.startswith("Apple 2 (")]
    assert [(row.season, row.crop) for row in rows][-1] == (2021, "none")


def test_a_young_graft_is_told_as_grafted(orchard: Orchard, tmp_path: Path) -> None:
    orchard_with(orchard, tmp_path)
    said = {row.tree: " ".join(row.reasons) for row in crop_load(orchard, date(2020, 6, 1))}
    assert "this tree, grafted over on 10 March 2020, is in leaf 1" in said["Apple 1"]
    assert "grafted" not in said["Apple 2"]
