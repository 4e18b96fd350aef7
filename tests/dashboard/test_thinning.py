import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from dashboard.data import StripPaid, ThinningPlan
from dashboard.pages import tree_decision
from dashboard.pages.thinning import paid_sentence, sentence
from dashboard.pages.tree_decision import DECIDE, SIGN, button_id, pressed, undone
from dashboard.source import Source
from dashboard.texts import young as young_texts
from dashboard.views.thinning import plans_by_state
from harvest.service import open_orchard
from harvest.store.orchard import Orchard
from tests.dashboard.client import Client, all_text, app_of, find
from tests.dashboard.made_up import AS_OF


def plan(tree: str, start: date | None, end: date | None, done: date | None = None) -> ThinningPlan:
    return ThinningPlan(
        tree=tree, site="Northfield", species="apple", cultivar="Testapple", season=2026, leaf=9,
        target_fruit=80, spacing_cm=(10.0, 20.0), start=start, end=end, fruit_g=None, kg=None,
        fruit_to_come=120, return_bloom_risk="raised", done=done, reasons=("Invented.",),
        sources=("Invented source.",),
    )  # fmt: skip


def paid(**changed: object) -> StripPaid:
    known: dict[str, object] = {
        "site": "Northfield", "cultivar": "Testapple", "rootstock": "M.9", "first_season": 2018,
        "measure": "weight_kg", "stripped_trees": 4, "kept_trees": 5, "stripped_mean": 42.0,
        "kept_mean": 30.0, "difference": 12.0, "low": 3.0, "high": 21.0,
        "verdict": "stripped ahead",
    }  # fmt: skip
    return StripPaid(**(known | changed))  # type: ignore[arg-type]


@pytest.fixture
def source(tmp_path: Path, demo: Orchard) -> Source:
    """A copy of the demo that may be written to."""
    path = tmp_path / "demo.sqlite"
    shutil.copyfile(str(demo.engine.url.database), path)
    return Source(open_orchard(str(path)), lambda: AS_OF)


def test_what_must_be_thinned_next_comes_first() -> None:
    plans = plans_by_state(
        [
            plan("passed", date(2026, 5, 1), date(2026, 5, 20)),
            plan("done", date(2026, 5, 1), date(2026, 5, 20), date(2026, 5, 9)),
            plan("soon", date(2026, 9, 1), date(2026, 9, 20)),
            plan("now", date(2026, 8, 1), date(2026, 8, 20)),
            plan("open", None, None),
            replace(plan("light", date(2026, 8, 1), date(2026, 8, 20)), fruit_to_come=40),
        ],
        AS_OF,
    )
    assert [(each.plan.tree, each.state) for each in plans] == [
        ("now", "now"), ("open", "now"), ("soon", "soon"),
        ("light", "little"), ("passed", "passed"), ("done", "done"),
    ]  # fmt: skip
    said = sentence(plans, AS_OF)
    assert said.startswith("3 of 6 trees still to be thinned")
    assert "First: now (Testapple), to 80 fruit, from 1 August to 20 August." in said


def test_did_it_pay_is_told_with_its_numbers_and_interval() -> None:
    said = paid_sentence(paid())
    assert "42.0\u00a0kg of 4 stripped, 30.0\u00a0kg of 5 unstripped" in said
    assert "The stripped trees are ahead by 12.0\u00a0kg (95 % interval" in said
    assert "3.0\u00a0kg to 21.0\u00a0kg)." in said
    assert "No clear difference" in paid_sentence(paid(verdict="no clear difference", low=-3.0))


def test_too_few_trees_get_no_interval() -> None:
    said = paid_sentence(paid(low=None, high=None, verdict="too few trees to tell"))
    assert said.endswith("Too few trees to tell.")
    assert "interval" not in said


def test_a_decision_is_kept_seen_and_undone(source: Source) -> None:
    said = pressed(
        source, button_id(DECIDE, "strip"), "Q3-05", "left to bear too much", None, AS_OF
    )
    assert said.words == "Kept: Q3-05, strip it, 12 August 2026."
    assert said.batch is not None
    (kept,) = source.overrules(AS_OF)
    assert (kept.tree, kept.decision, kept.why) == ("Q3-05", "strip", "left to bear too much")
    page = Client(app_of(source.orchard)).page("/young-trees")
    assert young_texts.OVERRULED["strip"] in all_text(page)
    assert undone(source, said.batch).words.startswith("Undone: events: Q3-05")
    assert source.overrules(AS_OF) == []
    assert "Undone" not in undone(source, said.batch).words


def test_a_second_thought_the_same_day_takes_the_place_of_the_first(source: Source) -> None:
    for decision in ("strip", "carry"):
        assert pressed(
            source, button_id(DECIDE, decision), "Q3-05", None, None, AS_OF
        ).batch is not None  # fmt: skip
    (kept,) = source.overrules(AS_OF)
    assert kept.decision == "carry"


@pytest.mark.parametrize("sign", list(young_texts.SIGN_NAMES))
def test_every_sign_can_be_logged(source: Source, sign: str) -> None:
    said = pressed(source, button_id(SIGN, sign), "Q3-05", None, None, AS_OF)
    assert said.batch is not None
    events = source.records(AS_OF).events
    assert (events["tree"] == "Q3-05").sum() >= 1


def test_what_is_missing_is_said_and_nothing_is_kept(source: Source) -> None:
    assert pressed(source, button_id(DECIDE, "strip"), None, None, None, AS_OF).words == (
        young_texts.FORM_NEEDS_TREE
    )
    shoots = tree_decision.SHOOTS_SAVE
    assert pressed(source, shoots, "Q3-05", None, None, AS_OF).words == (
        "Write how many centimetres the shoots grew."
    )
    refused = pressed(source, button_id(DECIDE, "limit"), "Q3-05", None, None, AS_OF)
    assert "the advice already is to limit" in refused.words
    assert refused.batch is None
    assert source.overrules(AS_OF) == []


def test_the_form_works_through_the_page(source: Source) -> None:
    client = Client(app_of(source.orchard))
    button = button_id(SIGN, "leaning")
    posted = client.callback(
        f"{tree_decision.SAID}.children",
        f"{button}.n_clicks",
        **{
            f"{button}.n_clicks": 1,
            f"{tree_decision.TREE}.value": "Q3-05",
            f"{tree_decision.ASKED}.data": "?as_of=2026-08-12",
        },
    )
    assert "Kept: Q3-05, leaning or not staked" in all_text(posted[tree_decision.SAID]["children"])
    assert posted[tree_decision.UNDO]["className"] == "choice"


def test_the_plans_of_the_demo_follow_the_page(demo: Orchard) -> None:
    client = Client(app_of(demo))
    posted = client.callback(
        "thinning.children", "thinning-asked.data",
        **{"thinning-asked.data": "?as_of=2026-05-20&site=Quernwell"},
    )  # fmt: skip
    content = posted["thinning"]["children"]
    rows = find(content, "table-thinning")["props"]["rowData"]
    assert {row["site"] for row in rows} == {"Quernwell"}
    assert not {row["cultivar"] for row in rows} & {"Kordia", "Satsuma Owari"}
    said = all_text(content)
    assert young_texts.PAID_NOTHING in said
    assert young_texts.OVERRULED_NONE in said
