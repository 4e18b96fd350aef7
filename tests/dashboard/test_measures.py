"""Units by their definition, and no unit but in `dashboard/measures.py`.

Pound, inch, foot and mile are exact by the definitions in NIST Special Publication 811 (2008),
appendix B.8; 32 degF is 0 degC, and a difference of 1 degC is one of 1.8 degF.
"""

from __future__ import annotations

import ast
import math
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard import measures, words
from dashboard.measures import MEASURES, filled, retold
from dashboard.words import Ways
from tests.dashboard.test_texts import texts_of

ROOT = Path(__file__).parents[2] / "dashboard"


@pytest.fixture
def us() -> Iterator[None]:
    token = words.WAYS.set(Ways(words.US, words.MONTH_FIRST, 0))
    yield
    words.WAYS.reset(token)


def test_metric_is_told_as_it_comes() -> None:
    assert measures.kilograms(4.25) == "4.2\u00a0kg"
    assert measures.kilograms(1234.5) == "1,234\u00a0kg"
    assert measures.degrees(-2.2) == "−2.2\u00a0°C"
    assert filled("Picked [{unit:kg}], at {unit:0 °C}") == "Picked [kg], at 0 °C"
    sentence = "Shoots of 35 cm were noted; 5 fruit per cm2."
    assert retold(sentence) == sentence


@pytest.mark.parametrize(
    ("metric", "name", "shown"),
    [
        (0.45359237, "kg", 1.0),
        (28.349523125, "g", 1.0),
        (2.54, "cm", 1.0),
        (25.4, "mm", 1.0),
        (0.3048, "m", 1.0),
        (1.609344, "km", 1.0),
        (6.4516, "cm²", 1.0),
        (0.45359237 / 6.4516, "kg/cm²", 1.0),
        (1 / 6.4516, "fruit/cm²", 1.0),
        (0.0, "°C", 32.0),
        (100.0, "°C", 212.0),
        (-40.0, "°C", -40.0),
        (5.0, "°C d", 9.0),
        (1.0, "°C warmer", 1.8),
    ],
)
def test_us_units_by_their_definition(us: None, metric: float, name: str, shown: float) -> None:
    assert measures.value(metric, name) == pytest.approx(shown, rel=1e-12)


def test_us_values_carry_their_unit(us: None) -> None:
    assert measures.kilograms(0.45359237) == "1.0\u00a0lb"
    assert measures.kilograms(45.359237) == "100\u00a0lb"
    assert measures.degrees(0) == "32.0\u00a0°F"
    assert measures.degrees(-40) == "−40.0\u00a0°F"
    assert measures.said(16.09344, "km", 0) == "10\u00a0mi"
    assert measures.cell(None, "kg", 1) is None


@given(st.sampled_from(sorted(MEASURES)), st.floats(-1e4, 1e4))
def test_what_is_shown_and_read_again_is_the_same(name: str, metric: float) -> None:
    token = words.WAYS.set(Ways(words.US))
    back = measures.metric_of(measures.value(metric, name), name)
    words.WAYS.reset(token)
    assert math.isclose(back, metric, rel_tol=1e-12, abs_tol=1e-10)


@pytest.mark.parametrize(
    ("metric", "american"),
    [
        (
            "12.4 kg, where 20.0 kg were to be expected",
            "27.3 lb, where 44.1 lb were to be expected",
        ),
        ("Measure 25 to 30 cm above the graft", "Measure 10 to 12 in above the graft"),
        ("one fruit every 2 cm", "one fruit every 0.8 in"),
        ("about 19 mm through", "about 0.75 in through"),
        ("hours at 0–7.2 °C", "hours at 32–45 °F"),
        ("the night of −2.2 °C", "the night of 28 °F"),
        ("Frost, -5.1 °C at full bloom", "Frost, 22.8 °F at full bloom"),
        ("2.5 K warmer than usual", "4.5 °F warmer than usual"),
        ("each +1 °C", "each +1.8 °F"),
        ("4 to 6 fruit per cm2 of trunk", "26 to 39 fruit per in² of trunk"),
        ("may carry fewer per cm2, so", "may carry fewer per in², so"),
        ("How long were its shoots [cm]?", "How long were its shoots [in]?"),
        ("a cross-section of 12.9 cm2.", "a cross-section of 2 in²."),
        ("about 150 g (128 to 172 g)", "about 5.3 oz (4.5 to 6.1 oz)"),
        ("the air 1.5 to 2 m up", "the air 4.9 to 6.6 ft up"),
        ("1,000 degree days", "1,800 degree days"),
        ("12 trees in 3 rows, 8 in 10, 20 May 2026", "12 trees in 3 rows, 8 in 10, May 20, 2026"),
        ("at 5 g/l, as its label has it", "at 5 g/l, as its label has it"),
        ("stripped on 2026-05-24.", "stripped on May 24, 2026."),
        ("from 8 Jun to 3 July", "from Jun 8 to July 3"),
    ],
)
def test_sentences_of_the_calculations_are_turned_whole(
    us: None, metric: str, american: str
) -> None:
    assert retold(metric) == american


def test_dates_in_sentences_go_by_the_order_chosen() -> None:
    assert retold("stripped on 2026-05-24") == "stripped on 24 May 2026"
    assert retold("no such day: 2026-13-40") == "no such day: 2026-13-40"
    token = words.WAYS.set(Ways(dates=words.YEAR_FIRST))
    assert retold("on 24 May 2026 and 3 June") == "on 2026-05-24 and 06-03"
    words.WAYS.reset(token)


def test_what_was_typed_and_how_to_type_it_stay_as_they_are(us: None) -> None:
    for as_it_is in ("given: '2026-04-31' or '12 kg'", "Write dates so, for example 2026-04-09."):
        assert retold(as_it_is) == as_it_is
    assert retold("sprayed on 2026-04-09T18:30:00") == "sprayed on April 9, 2026 18:30"


UNIT = re.compile(r"°[CF]|\bkm\b|\bmm\b|\bcm[²2]?\b|\bkg\b|[\]\[\d} ](?:lb|in²|mi)\b|\bdegC\b")
PLACES, FILLED_IN = re.compile(r"\{unit:[^}]*\}"), re.compile(r"\{[^}]*\}")
# Keys, columns and names of measures are no words to be read; these choose or teach units.
NAMES = {*MEASURES, "kg", "cm", "lb", "in"}
TEACH = {
    "settings.py": {"Metric: kg, °C", "US: lb, °F"},
}
FILES = sorted(
    path for path in ROOT.rglob("*.py") if path.name not in ("measures.py", "__main__.py")
)


def units_in(path: Path) -> list[str]:
    """Texts in a file, docstrings aside, that name a unit."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    silent = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    return [
        f"{path.name}:{line} {text!r}"
        for line, text in texts_of(tree, silent)
        if text not in NAMES
        and text not in TEACH.get(path.name, ())
        and UNIT.search(FILLED_IN.sub("", text))
    ]


def test_the_search_finds_a_unit(tmp_path: Path) -> None:
    path = tmp_path / "page.py"
    path.write_text('A = "At {low} °C"\nB = "[{unit:kg}]"\nC = f"{x:.1f} kg"\n', encoding="utf-8")
    assert [found.split()[0] for found in units_in(path)] == ["page.py:1", "page.py:3"]


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_units_are_named_in_one_place(path: Path) -> None:
    assert units_in(path) == []


def test_every_unit_that_a_text_asks_for_is_known(us: None) -> None:
    metric = re.compile(r"\b(?:kg|cm|mm|km|grams|kilograms|metres)\b|°C")
    for path in (ROOT / "texts").glob("*.py"):
        for place in PLACES.findall(path.read_text(encoding="utf-8")):
            assert not metric.search(filled(place)), (path.name, place)
