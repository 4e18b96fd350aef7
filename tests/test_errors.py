"""The error tree: what a message says, and which error is a kind of which."""

from __future__ import annotations

import pytest

from harvest import errors
from harvest.errors import HarvestError, InputError, QuantityError, UnknownNameError


@pytest.mark.parametrize(
    ("parts", "text"),
    [
        ({}, "a date is needed."),
        ({"given": "'May'"}, "a date is needed; given: 'May'."),
        ({"where": "picks.csv, line 3"}, "picks.csv, line 3: a date is needed."),
        ({"todo": "Write YYYY-MM-DD."}, "a date is needed. Write YYYY-MM-DD."),
        (
            {"given": "'May'", "where": "line 3", "todo": "Write YYYY-MM-DD."},
            "line 3: a date is needed; given: 'May'. Write YYYY-MM-DD.",
        ),
    ],
)
def test_a_message_says_where_what_was_needed_what_was_given_and_what_to_do(
    parts: dict[str, str], text: str
) -> None:
    error = HarvestError("a date is needed", **parts)
    assert str(error) == text
    assert error.args == (text,)
    assert error.required == "a date is needed"
    assert (error.given, error.where, error.todo) == tuple(
        parts.get(name, "") for name in ("given", "where", "todo")
    )


def test_every_error_belongs_to_the_one_tree_drawn_in_the_module() -> None:
    assert errors.__doc__ is not None
    found = {
        name: kind
        for name, kind in vars(errors).items()
        if isinstance(kind, type) and kind.__module__ == errors.__name__
    }
    for name, kind in found.items():
        assert issubclass(kind, HarvestError), name
        assert name in errors.__doc__
    parent = {
        "InputError": HarvestError,
        "UnknownNameError": InputError,
        "FileFormatError": InputError,
        "StoreError": HarvestError,
        "OrchardMissingError": errors.StoreError,
        "OrchardVersionError": errors.StoreError,
        "WeatherSourceError": HarvestError,
        "NoStationError": errors.WeatherSourceError,
    }
    for name, expected in parent.items():
        assert found[name].__base__ is expected, name


def test_a_quantity_error_is_a_value_error_too() -> None:
    with pytest.raises(ValueError, match="a latitude is needed; given: 91"):
        raise QuantityError("a latitude is needed", given="91")


def test_an_unknown_name_lists_the_names_most_like_it_whatever_their_case() -> None:
    known = ["Old Pearmain 1", "Old Pearmain 2", "Quince by the gate"]
    error = UnknownNameError("tree", "old pearmian 1", known, where="line 7")
    assert error.close[0] == "Old Pearmain 1"
    assert "Quince by the gate" not in error.close
    assert str(error).startswith("line 7: a known tree is needed; given: 'old pearmian 1'.")
    assert "Did you mean 'Old Pearmain 1' or 'Old Pearmain 2'?" in str(error)


def test_an_unknown_name_like_no_other_lists_what_is_known_and_cuts_a_long_list() -> None:
    few = UnknownNameError("site", "zzz", ["home", "allotment"])
    assert few.close == []
    assert str(few).endswith("Known: allotment, home.")
    many = UnknownNameError("site", "zzz", [f"{n:02d}" for n in range(30)])
    assert "11, …" in str(many)
    assert "12," not in str(many)


def test_an_unknown_name_says_when_there_is_none_on_record() -> None:
    assert "There is no tree on record yet." in str(UnknownNameError("tree", "Old Pearmain", []))
