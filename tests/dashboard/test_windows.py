from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.views.windows import Window, coming_weeks, mixture, windows
from tests.dashboard.made_up import AS_OF, LATITUDES, LEVELS, event, range_round

LATER = date(2026, 8, 24)


def one(*events: object, picks: tuple[tuple[str, int, date], ...] = ()) -> Window:
    rows = windows(events, picks, LATITUDES, AS_OF)  # type: ignore[arg-type]
    assert len(rows) == 1
    return rows[0]


def test_a_cultivar_yet_to_ripen() -> None:
    row = one(event(weeks=((date(2026, 8, 17), 0.3), (LATER, 0.6))), event(event="last pick"))
    assert row.state == "to come"
    assert row.name == "Testapple"
    assert row.likeliest_week == (LATER, 0.6)
    assert row.quantiles == range_round(date(2026, 8, 26))
    assert row.ripe_by(date(2026, 8, 26)) == pytest.approx(0.5)
    assert row.ripe_by(date(2026, 8, 1)) == 0.0
    assert row.ripe_by(date(2026, 10, 1)) == 1.0


def test_a_tree_being_picked_keeps_its_picks_of_this_season_only() -> None:
    row = one(
        event(status="observed", day=date(2026, 8, 2)),
        event(event="last pick", day=date(2026, 8, 20)),
        picks=(("A1", 2026, date(2026, 8, 2)), ("A1", 2025, date(2025, 8, 9))),
    )
    assert row.state == "picking"
    assert row.ripe == (date(2026, 8, 2),)
    assert row.picks == (date(2026, 8, 2),)
    assert row.last_pick == date(2026, 8, 20)
    assert row.likeliest_week is None


def test_picking_is_over_when_the_last_pick_is_logged() -> None:
    row = one(
        event(status="observed", day=date(2026, 7, 2)),
        event(event="last pick", status="observed", day=date(2026, 7, 9)),
    )
    assert row.state == "over"


def test_one_tree_ripe_and_one_to_come_is_being_picked() -> None:
    row = one(
        event("A1", status="observed", day=date(2026, 8, 9)), event("A2", day=date(2026, 8, 20))
    )
    assert row.state == "picking"
    assert row.trees == ("A1", "A2")
    assert row.quantiles == range_round(date(2026, 8, 20))


def test_nothing_known_keeps_the_reason_and_sorts_last() -> None:
    reason = "No full bloom is logged."
    rows = windows(
        [event("B1", status="unknown", cultivar="Aardvark", warnings=(reason,)), event()],
        (),
        LATITUDES,
        AS_OF,
    )
    assert [row.state for row in rows] == ["to come", "unknown"]
    assert rows[1].warnings == (reason,)
    assert rows[1].unknown_trees == ("B1",)
    assert rows[1].quantiles == {}


def test_one_row_per_tree_on_request_and_seasons_stay_apart() -> None:
    events = [event("A1"), event("A2"), event("A2", season=2027, day=date(2027, 8, 26))]
    assert len(windows(events, (), LATITUDES, AS_OF)) == 2
    by_tree = windows(events, (), LATITUDES, AS_OF, by_tree=True)
    assert [(row.name, row.season) for row in by_tree] == [
        ("A1", 2026),
        ("A2", 2026),
        ("A2", 2027),
    ]


def test_weeks_ahead_hold_what_most_likely_ripens_in_them() -> None:
    rows = windows(
        [
            event("A1", weeks=((LATER, 0.9),)),
            event("B1", cultivar="Other", weeks=((date(2026, 12, 7), 0.5),)),
        ],
        (),
        LATITUDES,
        AS_OF,
    )
    agenda = coming_weeks(rows, AS_OF, 3)
    assert list(agenda) == [date(2026, 8, 10), date(2026, 8, 17), LATER]
    assert [row.name for row in agenda[LATER]] == ["Testapple"]
    assert agenda[date(2026, 8, 10)] == []


def test_the_mixture_of_one_tree_is_that_tree() -> None:
    assert mixture([range_round(LATER)]) == range_round(LATER)
    assert mixture([]) == {}


@given(st.lists(st.integers(0, 60), min_size=1, max_size=6))
def test_a_mixture_rises_and_lies_between_its_parts(offsets: list[int]) -> None:
    parts = [range_round(LATER + timedelta(days=by)) for by in offsets]
    mixed = mixture(parts)
    assert sorted(mixed) == sorted(LEVELS)
    days = [mixed[level] for level in sorted(mixed)]
    assert days == sorted(days)
    for level, day in mixed.items():
        alike = [part[level] for part in parts]
        assert min(alike) <= day <= max(alike) + timedelta(days=1)


def test_a_mixture_of_two_far_apart_has_its_middle_between_them() -> None:
    early, late = date(2026, 8, 1), date(2026, 9, 30)
    mixed = mixture([range_round(early), range_round(late)])
    assert mixed[0.25] == early  # half of the early tree's chance is a quarter of the mixture's
    assert early < mixed[0.5] < late
    assert mixed[0.75] == late
