"""Weights and girths as people type them."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest.errors import InputError
from harvest.store.measures import girth_cm, weight_kg


@pytest.mark.parametrize(
    ("text", "kg"),
    [
        ("12.4kg", 12.4),
        ("12,4 KG", 12.4),
        ("0,125kg", 0.125),
        ("1.2500 kg", 1.25),
        ("1,25kg", 1.25),
        ("1250,125g", 1.250125),
        ("0.500lb", 0.226796185),
        ("800g", 0.8),
        # International avoirdupois pound, 0.45359237 kg exactly, 16 oz (NIST SP 811, Appendix B).
        ("1lb", 0.45359237),
        ("16 oz", 0.45359237),
        ("10 lb 8oz", 4.762719885),
        ("1kg 250g", 1.25),
        ("1.234,5 g", 1.2345),
        ("1,234.5g", 1.2345),
        ("0kg", 0.0),
    ],
)
def test_a_weight_is_read_in_its_unit_with_either_decimal_mark(text: str, kg: float) -> None:
    assert weight_kg(text) == pytest.approx(kg, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(("text", "cm"), [("12.5cm", 12.5), ("125 mm", 12.5), ("5in", 12.7)])
def test_a_girth_is_read_in_its_unit(text: str, cm: float) -> None:
    assert girth_cm(text) == pytest.approx(cm)


@pytest.mark.parametrize("text", ["1,250kg", "1.250kg", "12,345 g", "999.999 g", "1kg 1.250g"])
def test_a_mark_that_may_part_the_thousands_is_not_guessed(text: str) -> None:
    with pytest.raises(InputError, match=r"parts decimals or thousands; given") as no:
        weight_kg(text)
    for written in re.findall(r"[\d.]+\d(?= for)", no.value.todo):
        assert weight_kg(f"{written}kg") > 0


@pytest.mark.parametrize("text", ["12.4", "kg", "12.4 stone", "about 3kg", "-3kg", "3kg 2lb", "",
                                  "1.2.3kg", "3cm"])  # fmt: skip
def test_what_is_no_weight_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(InputError, match=r"is needed; given: .*Write it like"):
        weight_kg(text)


@given(st.integers(0, 2000), st.integers(0, 99))
def test_law_point_and_comma_mean_the_same(whole: int, part: int) -> None:
    assert weight_kg(f"{whole}.{part:02d}kg") == weight_kg(f"{whole},{part:02d} kg")
