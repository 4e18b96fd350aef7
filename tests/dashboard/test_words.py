from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard import words
from tests.dashboard.made_up import HOSTILE


@given(st.text(max_size=300))
def test_a_shown_name_is_short_visible_and_turns_no_neighbour_round(name: str) -> None:
    shown = words.shown(name)
    assert 0 < len(shown) <= words.NAME_LENGTH + 2
    # Unicode Standard Annex 9: overrides and embeddings change the order of what follows.
    assert not set(shown) & set("\u202a\u202b\u202c\u202d\u202e\u200e\u200f\n\r\t\0")
    assert shown.count("\u2068") == shown.count("\u2069")


def test_ordinary_names_are_shown_as_they_are() -> None:
    for name in ("O'Henry", "Doyenné du Comice", "Q4-12", "🍎 Apple", "りんご"):
        assert words.shown(name) == name


def test_a_name_from_right_to_left_is_isolated() -> None:
    assert words.shown("תפוח") == "\u2068תפוח\u2069"


def test_a_long_name_ends_in_an_ellipsis() -> None:
    assert words.shown("x" * 10_000, 10) == "x" * 9 + "…"


@pytest.mark.parametrize("name", HOSTILE)
def test_text_in_a_figure_holds_no_markup(name: str) -> None:
    assert "<" not in words.plot_text(name)
    assert ">" not in words.plot_text(name)


def test_nothing_left_of_a_name_is_said() -> None:
    assert words.shown(" \n\u202e") == "(no name)"


def test_dates_and_spans() -> None:
    assert words.day(date(2026, 8, 12)) == "12 August 2026"
    assert words.day(date(2026, 8, 12), near=date(2026, 1, 1)) == "12 August"
    assert words.span(date(2026, 8, 10), date(2026, 8, 16)) == "10 to 16 August 2026"
    near = date(2026, 8, 1)
    assert words.span(date(2026, 8, 31), date(2026, 9, 6), near) == "31 August to 6 September"
    over_new_year = words.span(date(2026, 12, 28), date(2027, 1, 3), near)
    assert over_new_year == "28 December 2026 to 3 January 2027"
    assert words.short_span(date(2026, 8, 10), date(2026, 8, 16)) == "10–16 Aug"
    assert words.short_span(date(2026, 8, 31), date(2026, 9, 6)) == "31 Aug – 6 Sep"


@given(st.dates())
def test_a_week_begins_on_the_monday_of_iso_8601(when: date) -> None:
    monday = words.week_start(when)
    assert monday.isocalendar().weekday == 1
    assert monday.isocalendar()[:2] == when.isocalendar()[:2]


def test_percent_never_claims_certainty() -> None:
    assert words.percent(0.004) == "under 1 %"
    assert words.percent(0.996) == "over 99 %"
    assert words.percent(0.42) == "42\u00a0%"
    assert words.percent(0.0) == "0\u00a0%"


def test_lists_read_as_a_sentence() -> None:
    assert words.listing([]) == ""
    assert words.listing(["a"]) == "a"
    assert words.listing(["a", "b", "c"]) == "a, b and c"
    assert words.listing(list("abcdef"), most=2) == "a, b and 4 more"
    assert words.count(1, "tree", "trees") == "1 tree"
    assert words.count(1200, "tree", "trees") == "1,200 trees"


@pytest.mark.parametrize(("first_day", "weekday"), [(0, 6), (1, 0), (6, 5)])
@given(when=st.dates(min_value=date(1900, 1, 1)))
def test_weeks_begin_on_the_day_chosen(first_day: int, weekday: int, when: date) -> None:
    """Numbered from Sunday, as calendars in browsers do; `date.weekday` counts from Monday."""
    token = words.WAYS.set(words.Ways(first_day=first_day))
    start = words.week_start(when)
    words.WAYS.reset(token)
    assert start.weekday() == weekday
    assert 0 <= (when - start).days < 7


def test_short_dates_and_axes_go_by_the_order_chosen() -> None:
    when, said = date(2026, 8, 9), []
    for order in (words.DAY_FIRST, words.MONTH_FIRST, words.YEAR_FIRST):
        token = words.WAYS.set(words.Ways(dates=order))
        said.append((words.short_date(when), words.day_pattern()))
        words.WAYS.reset(token)
    assert said == [
        ("9 Aug 2026", "%-d %b"),
        ("Aug 9, 2026", "%b %-d"),
        ("2026-08-09", "%m-%d"),
    ]
