"""What the package offers, and what importing it does not do."""

from __future__ import annotations

import csv
import subprocess
import sys

import harvest.thermal
from tests.thermal.reference_values import CHECK_VALUES


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
    with CHECK_VALUES.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) > 300
    for row in rows:
        assert row["source"]
        assert row["verified"] in {"opened", "computed", "memory"}
