import json
from datetime import date

import pandas as pd
import pytest

from dashboard import ids
from dashboard.texts import plan as plan_texts
from dashboard.views.plan import (
    LOOKS,
    NAMES,
    PlanTree,
    Told,
    by_advice,
    by_leave,
    by_verdict,
    by_week,
    by_weight,
    laid_out,
    plan_trees,
    sentence,
)
from harvest import service
from harvest.store.orchard import Orchard
from tests.dashboard.client import Client, all_text, app_of, find
from tests.dashboard.made_seasons import season, unpicked
from tests.dashboard.made_up import AS_OF, advice, event, withheld
from tests.dashboard.orchards import take_in


@pytest.fixture(scope="module")
def client(demo: Orchard) -> Client:
    return Client(app_of(demo))


def planted(name: str, row: int | None = 1, position: int | None = 1) -> PlanTree:
    return PlanTree(name, "North", "apple", "Testapple", row, position, Told("later", "1 Sep"))


def test_every_state_has_its_own_sign_and_words() -> None:
    for measure, looks in LOOKS.items():
        assert set(looks) == set(NAMES[measure])
        assert len({sign for _, sign in looks.values()}) == len(looks)
        assert len(set(NAMES[measure].values())) == len(looks)


def test_trees_stand_in_their_row_and_position() -> None:
    sites, left = laid_out(
        [planted("A", 2, 3), planted("B", 1, 5), planted("C", 2, 3), planted("D", None, 1)]
    )
    assert [(site.site, site.first, site.last) for site in sites] == [("North", 3, 5)]
    assert [(row.row, list(row.trees)) for row in sites[0].rows] == [(1, [5]), (2, [3])]
    assert [tree.tree for tree in left] == ["C", "D"]


def test_a_tree_taken_out_is_not_on_the_plan() -> None:
    frame = pd.DataFrame(
        {
            "tree": ["A", "B"], "site": "North", "species": "apple", "cultivar": "Testapple",
            "row": [1.0, 1.0], "position": [1.0, float("nan")],
            "removed": pd.to_datetime([None, None]),
        }
    )  # fmt: skip
    found = plan_trees(frame, {}, Told("unknown", "no date"))
    assert [(tree.tree, tree.row, tree.position) for tree in found] == [("A", 1, 1), ("B", 1, None)]
    frame["removed"] = pd.to_datetime(["2020-01-01", None])
    assert [tree.tree for tree in plan_trees(frame, {}, Told("unknown", ""))] == ["B"]


def test_ripeness_by_week() -> None:
    told = by_week(
        [
            event("now", status="observed", day=date(2026, 8, 2)),
            event("soon", day=date(2026, 8, 24)),
            event("later", day=date(2026, 9, 24)),
            event("over", status="observed", day=date(2026, 7, 2)),
            event("over", "last pick", "observed", day=date(2026, 7, 12)),
            event("unknown", status="unknown"),
        ],
        AS_OF,
    )
    assert {tree: each.state for tree, each in told.items()} == {
        name: name for name in ("now", "soon", "later", "over", "unknown")
    }
    assert told["soon"].words == "24 Aug"


def test_a_wait_and_an_unread_label_are_two_things() -> None:
    told = by_leave([withheld("A", "clear"), withheld("B", "unknown")])
    assert (told["A"].state, told["B"].state) == ("clear", "unread")
    assert "safe" not in json.dumps(NAMES["may"])


def test_weights_fall_into_thirds_and_nothing_is_not_light() -> None:
    told = by_weight(
        [season(name=str(kg), weight_kg=float(kg)) for kg in range(1, 10)]
        + [unpicked(2025, "none")]
    )
    assert [told[str(kg)].state for kg in (1, 3, 4, 6, 7, 9)] == [
        "light", "light", "middle", "middle", "heavy", "heavy",
    ]  # fmt: skip
    assert told["Northfield"].state == "none"


def test_verdicts_and_advice_keep_their_words() -> None:
    told = by_verdict([season(2024, verdict="poor"), unpicked(2025, "not recorded")])
    assert told["Northfield"].words == "’24: poor"
    assert by_advice([advice("A", "limit", fruit_limit=12)])["A"].words == "≤ 12"


def test_the_answer_counts_every_state() -> None:
    trees = [planted("A"), planted("B")]
    assert sentence("week", trees, "2 trees", "12 August 2026").startswith("0 of 2 trees are ripe")


@pytest.mark.parametrize("measure", list(LOOKS))
def test_the_plan_of_the_demo_has_every_tree_in_words(client: Client, measure: str) -> None:
    page = client.page("/plan", f"?measure={measure}")
    rows = find(page, "table-plan")["props"]["rowData"]
    assert len(rows) == 57
    assert all(row["state"] in NAMES[measure].values() for row in rows)
    said = all_text(page)
    assert all(row["tree"] in said for row in rows)
    assert len(all_text(find(page, ids.ANSWER))) > 40


def test_trees_without_a_place_are_listed(sqlite_address: str, tmp_path) -> None:
    orchard = service.open_orchard(sqlite_address)
    take_in(orchard, tmp_path, "sites", [("site", "latitude", "longitude"), ("Hill", 47, 16)])
    take_in(
        orchard,
        tmp_path,
        "trees",
        [
            ("tree", "site", "species", "cultivar", "planted", "row", "position"),
            ("placed", "Hill", "apple", "Gala", "2020-03-14", 1, 1),
            ("astray", "Hill", "apple", "Gala", "2020-03-14", "", ""),
        ],
    )
    said = all_text(Client(app_of(orchard)).page("/plan"))
    assert plan_texts.UNPLACED_TITLE.format(count=1) in said
    assert "astray Gala: " in said
    orchard.engine.dispose()
