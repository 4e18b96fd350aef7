from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.address import View, view_of, view_of_search
from tests.dashboard.made_up import HOSTILE, advice

LATEST = date(2026, 8, 20)
names = st.none() | st.text(min_size=1, max_size=30).filter(lambda name: name.strip() != "")


@given(
    st.builds(
        View,
        as_of=st.none() | st.dates(date(1900, 1, 1), LATEST),
        site=names,
        species=names,
        cultivar=names,
        rows=st.sampled_from(["cultivars", "trees"]),
    )
)
def test_a_view_comes_back_from_its_address(view: View) -> None:
    try:
        search = view.search()
    except UnicodeEncodeError:  # lone surrogates are no text and cannot be in an address
        return
    assert view_of_search(search, LATEST) == view


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_pass_through_an_address_unharmed(name: str) -> None:
    search = View(cultivar=name).search()
    assert search.isascii()
    assert "<" not in search
    assert view_of_search(search, LATEST).cultivar == name


@pytest.mark.parametrize("given_date", ["banana", "2026-13-01", "2026-08-21", "1899-12-31", "-1"])
def test_a_date_that_makes_no_sense_is_refused_and_kept_to_be_shown(given_date: str) -> None:
    view = view_of({"as_of": given_date}, LATEST)
    assert view.as_of is None
    assert view.refused == given_date


def test_unknown_words_in_an_address_are_ignored() -> None:
    view = view_of({"rows": "nonsense", "other": "x", "site": ["A", "B"]}, LATEST)
    assert view == View(site="A")


def test_filters_keep_what_matches_all_of_them() -> None:
    items = [advice("1", cultivar="Gala"), advice("2", cultivar="Topaz")]
    assert View().keep(items) == items
    assert View(cultivar="Gala").keep(items) == items[:1]
    assert View(cultivar="Gala", site="Elsewhere").keep(items) == []
    assert View(species="apple").filtered
    assert not View().filtered


def test_changing_a_view_forgets_a_refused_date() -> None:
    assert View(refused="banana").but(site="A") == View(site="A")


def test_a_pages_own_choices_stay_in_the_address() -> None:
    view = view_of({"by": "row", "site": "North", "unheard-of": "1"}, LATEST)
    assert view.choice("by") == "row"
    assert view.choice("measure") is None
    assert view_of_search(view.choosing(measure="advice").search(), LATEST) == view.choosing(
        measure="advice"
    )
    assert view.choosing(by=None).search() == "?site=North"
