"""What the package offers, and what importing it does not do."""

from __future__ import annotations

import subprocess
import sys

import harvest.thermal
from tests.thermal.reference_values import CHECK_VALUES, check_values


def test_everything_offered_is_listed_in_order():
    offered = harvest.thermal.__all__
    assert offered == sorted(offered, key=lambda name: (not name.isupper(), name))
    public = {
        name
        for name, value in vars(harvest.thermal).items()
        if not name.startswith("_") and not hasattr(value, "__path__") and name != "annotations"
    }
    modules = {name for name in public if f"harvest.thermal.{name}" in sys.modules}
    assert public - modules | set(offered) == set(offered)


def test_importing_loads_neither_compiler_nor_tables():
    code = (
        "import sys, harvest.thermal; "
        "print([m for m in ('numba', 'pandas', 'scipy', 'xclim') if m in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_every_check_value_says_where_it_is_from():
    header = CHECK_VALUES.read_text(encoding="utf-8").splitlines()[0]
    assert header == "topic,inputs,expected,unit,tolerance,source,verified"
    for row in check_values("dd_sine_horizontal", "dynamic_const", "utah", "daylength_cbm"):
        assert row.source
        assert row.verified in {"opened", "computed", "memory"}
