from datetime import date

from dashboard.pages.young import in_short, sentence
from dashboard.views.young import YoungTree, young_trees
from tests.dashboard.made_up import AS_OF, LATITUDES, advice, crop


def listed(
    *items: object, removals: dict[str, list[tuple[date, str]]] | None = None
) -> list[YoungTree]:
    return young_trees(items, [], removals or {}, LATITUDES, AS_OF)  # type: ignore[arg-type]


def test_what_must_be_done_next_comes_first() -> None:
    trees = listed(
        advice("carry", "carry", 3),
        advice("asked", "unknown"),
        advice("later", act_by=date(2026, 9, 20)),
        advice("sooner", act_by=date(2026, 8, 20)),
        advice("passed", act_by=date(2026, 6, 1)),
    )
    assert [tree.advice.tree for tree in trees] == ["passed", "sooner", "later", "asked", "carry"]
    assert [tree.urgency for tree in trees] == ["overdue", "due", "due", "ask", "carry"]


def test_a_stripped_tree_is_done_this_season_but_not_by_last_years_work() -> None:
    items = (advice("now"), advice("then"))
    trees = listed(
        *items,
        removals={"now": [(date(2026, 5, 20), "strip")], "then": [(date(2025, 5, 20), "strip")]},
    )
    assert {tree.advice.tree: tree.urgency for tree in trees} == {"now": "done", "then": "due"}
    assert trees[-1].done_on == date(2026, 5, 20)


def test_thinning_is_enough_to_limit_but_not_to_strip() -> None:
    thinned = {"tree": [(date(2026, 6, 10), "thin")]}
    assert listed(advice("tree", "limit"), removals=thinned)[0].urgency == "done"
    assert listed(advice("tree", "strip"), removals=thinned)[0].urgency == "due"


def test_thinned_too_lightly_is_not_done() -> None:
    """The advice then still names a date to act by."""
    thinned = {"tree": [(date(2026, 6, 10), "thin")]}
    (tree,) = listed(advice("tree", "limit", act_by=date(2026, 6, 20)), removals=thinned)
    assert tree.urgency == "overdue"
    assert tree.done_on is None


def test_a_grown_tree_that_carries_is_not_listed() -> None:
    assert listed(advice("old", "carry", 9)) == []


def test_seasons_past_are_told_by_leaf() -> None:
    (tree,) = young_trees(
        [advice("A1", leaf=3)],
        [crop(2024, "stripped"), crop(2025, "none"), crop(2026, "not recorded")],
        {},
        LATITUDES,
        AS_OF,
    )
    assert tree.past == ((1, "stripped"), (2, "none"))


def test_the_answer_names_the_first_tree_its_limit_and_its_date() -> None:
    trees = listed(advice("A1", "limit", 3, act_by=date(2026, 8, 20), fruit_limit=12), advice("A2"))
    said = sentence(trees, AS_OF)
    assert said.startswith("2 of 2 young trees")
    assert "leave at most 12 fruit on A1 (Testapple, Northfield, leaf 3) by 20 August" in said
    overdue = listed(advice("A1", act_by=date(2026, 6, 1)))
    assert "take all fruit off A1" in sentence(overdue, AS_OF)
    assert "which was due by 1 June" in sentence(overdue, AS_OF)


def test_the_answer_says_of_every_tree_whether_it_may_carry() -> None:
    trees = listed(advice("A1", "limit", 3), advice("A2"), advice("A3"), advice("A4", "carry", 3))
    assert in_short(trees) == (
        "Of 4 young trees 1 may carry a crop (A4), 1 may carry some fruit (A1) and 2 should carry "
        "none (A2 and A3)."
    )


def test_no_fruit_number_is_made_up() -> None:
    said = sentence(listed(advice("A1", "limit", 3)), AS_OF)
    assert "only a few fruit on A1" in said


def test_nothing_to_do_is_said() -> None:
    done = listed(advice("A1"), removals={"A1": [(date(2026, 5, 20), "strip")]})
    assert sentence(done, AS_OF) == (
        "None of 1 young tree needs anything done about its crop on 12 August 2026."
    )
