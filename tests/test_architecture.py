"""The shape of the code, read off its own syntax trees: who imports whom, how long, how told."""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
MOST_MODULE_LINES, MOST_FUNCTION_LINES, MOST_POSITIONAL = 400, 50, 6

# What each part of the program may import of the others; a part may always import itself.
BASE = {"errors", "units", "seasons", "grafting", "records"}
PURE = {"thermal", "tree_years", "compatibility", "phenology", "yields", "care"}
ALLOWED: dict[str, set[str]] = {
    "__init__": set(),
    "errors": set(),
    "units": {"errors"},
    "seasons": {"errors", "units"},
    "grafting": set(),
    "records": {"errors", "units", "seasons", "grafting"},
    "thermal": {"errors", "units", "seasons"},
    "tree_years": BASE,
    "compatibility": set(),
    "phenology": BASE | {"thermal", "tree_years", "weather"},
    "yields": BASE | {"thermal", "tree_years", "compatibility", "weather"},
    "care": BASE | {"thermal", "tree_years", "compatibility", "weather"},
    "weather": BASE | {"thermal"},
    "store": BASE | {"weather"},
    "traits": BASE | {"store"},
    "service_weather": BASE | {"weather", "store"},
    "service_records": BASE | {"tree_years", "store", "traits"},
    "service_known": BASE | PURE | {"store", "traits"},
    "service_care": BASE | PURE | {"weather", "store", "traits", "service_known"},
    "service_calendar": BASE | PURE | {"weather", "store", "traits", "service_known"},
    "service_climate": BASE | PURE | {"weather", "store", "traits", "service_known"},
    "service_yields": BASE | PURE | {"weather", "store", "traits", "service_known"},
    "service_experience": BASE | PURE | {"store", "service_known"},
    "service_people": {"errors", "store"},
    "service_settings": {"errors", "store"},
    "service_forms": BASE | {"store"},
    "service_imports": BASE | {"store", "service_records"},
    "service_season": BASE | PURE | {"weather", "store", "traits", "service_known"},
    "service": BASE | PURE | {"weather", "store", "traits", "service_weather", "service_known"},
    "cli": {
        "errors",
        "service",
        "service_calendar",
        "service_care",
        "service_climate",
        "service_experience",
        "service_people",
        "service_forms",
        "service_records",
        "service_weather",
        "service_yields",
    },
}
# What calculations may use of the weather: its own calculations, none of its sources.
WEATHER_NUMERICS = {"daily", "gaps", "hours", "neighbours", "site_record"}
# Numerics know nothing of files, databases or pages.
NOT_IN_PURE = {"sqlalchemy", "alembic", "sqlite3", "psycopg", "pathlib", "io", "shutil",
               "tempfile", "socket", "urllib", "requests", "typer", "rich"}  # fmt: skip
PAGES = {"dash", "plotly", "dash_mantine_components", "dash_ag_grid", "flask"}


@dataclass(frozen=True)
class Import:
    """One import statement's target, and whether it stands inside a function."""

    module: str
    line: int
    lazy: bool


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def sources(*folders: str) -> list[Path]:
    """Python files of the project's own code, migrations left out."""
    found = [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]
    return [path for path in found if "migrations" not in path.parts]


def name_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def part_of(path: Path) -> str:
    """Which part of `harvest` a file belongs to: its package, or its own name."""
    return path.relative_to(ROOT / "harvest").parts[0].removesuffix(".py")


def imports(path: Path) -> Iterator[Import]:
    """Every import in a file, also those inside functions and under TYPE_CHECKING."""
    tree = tree_of(path)
    inside = {
        node
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef)
        for node in ast.walk(function)
    }
    package = path.relative_to(ROOT).with_suffix("").parts[:-1]
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield Import(alias.name, node.lineno, node in inside)
        elif isinstance(node, ast.ImportFrom):
            up = package[: len(package) - node.level + 1] if node.level else ()
            module = ".".join([*up, *(node.module or "").split(".")]).strip(".")
            for alias in node.names:
                yield Import(f"{module}.{alias.name}", node.lineno, node in inside)


def functions(path: Path) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


HARVEST = sources("harvest")
EVERYTHING = sources("harvest", "dashboard", "data")


def test_the_walk_sees_the_code_and_what_is_in_it() -> None:
    assert {part_of(path) for path in HARVEST} >= {"cli", "store", "thermal", "phenology"}
    found = {(i.module, i.lazy) for i in imports(ROOT / "harvest" / "cli" / "dashboard.py")}
    assert ("harvest.service.Orchard", False) in found
    assert ("dashboard.app.create_app", True) in found


def test_every_part_imports_only_what_lies_below_it() -> None:
    wrong = []
    for path in HARVEST:
        part = part_of(path)
        assert part in ALLOWED, f"{name_of(path)}: give its part a place in ALLOWED"
        for found in imports(path):
            if not found.module.startswith("harvest."):
                continue
            other = found.module.split(".")[1]
            if other != part and other not in ALLOWED[part]:
                wrong.append(f"{name_of(path)}:{found.line} imports {found.module}")
    assert wrong == []


def test_calculations_use_the_calculations_of_the_weather_only() -> None:
    used = {
        found.module.split(".")[2]
        for path in HARVEST
        if part_of(path) in PURE
        for found in imports(path)
        if found.module.startswith("harvest.weather.")
    }
    assert used <= WEATHER_NUMERICS
    for name in WEATHER_NUMERICS:
        tops = {each.module.split(".")[0] for each in imports(ROOT / f"harvest/weather/{name}.py")}
        assert not tops & NOT_IN_PURE, name


def test_harvest_knows_no_pages_and_opens_the_dashboard_only_when_asked() -> None:
    wrong = []
    for path in HARVEST:
        for found in imports(path):
            top = found.module.split(".")[0]
            opened = top == "dashboard" and part_of(path) == "cli" and found.lazy
            if top in PAGES or (top == "dashboard" and not opened):
                wrong.append(f"{name_of(path)}:{found.line} imports {found.module}")
    assert wrong == []


def test_one_door_leads_from_the_dashboard_to_harvest() -> None:
    doors = {
        name_of(path)
        for path in sources("dashboard")
        for found in imports(path)
        if found.module.split(".")[0] == "harvest"
    }
    assert doors == {"dashboard/data.py"}


def test_figures_are_drawn_without_dash() -> None:
    for path in sources("dashboard/figures"):
        tops = {found.module.split(".")[0] for found in imports(path)}
        assert not tops & (PAGES - {"plotly"}), name_of(path)


def test_thermal_takes_arrays_only() -> None:
    for path in sources("harvest/thermal"):
        assert "pandas" not in {found.module.split(".")[0] for found in imports(path)}, path


@pytest.mark.parametrize("part", sorted(PURE | {"errors", "units", "seasons", "records"}))
def test_calculations_know_no_files_and_no_database(part: str) -> None:
    for path in HARVEST:
        if part_of(path) != part:
            continue
        tops = {found.module.split(".")[0] for found in imports(path)}
        assert not tops & NOT_IN_PURE, name_of(path)
        called = {
            node.func.id
            for node in ast.walk(tree_of(path))
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        }
        assert not called & {"open", "print", "input"}, name_of(path)


def test_only_the_command_line_talks_to_the_terminal() -> None:
    for path in HARVEST:
        tops = {found.module.split(".")[0] for found in imports(path)}
        if part_of(path) != "cli":
            assert not tops & {"typer", "rich", "click", "argparse"}, name_of(path)


CLOCKS = {"date.today", "datetime.today", "datetime.now", "datetime.utcnow", "Timestamp.now",
          "Timestamp.today", "time.localtime", "time.gmtime"}  # fmt: skip


def test_nothing_below_the_command_line_asks_what_day_it_is() -> None:
    asked = [
        f"{name_of(path)}:{node.lineno}"
        for path in HARVEST
        if part_of(path) != "cli"
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Call)
        and (
            ".".join(ast.unparse(node.func).split(".")[-2:]) in CLOCKS
            or ast.unparse(node) in ("np.datetime64('now')", "np.datetime64('today')")
        )
    ]
    assert asked == []


# Sizes


def test_modules_are_short() -> None:
    lengths = {
        name_of(path): len(path.read_text(encoding="utf-8").splitlines()) for path in EVERYTHING
    }
    assert {name: n for name, n in lengths.items() if n > MOST_MODULE_LINES} == {}


def length(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function, its docstring left out: saying more is no fault."""
    last = node.end_lineno or node.lineno
    told = node.body[0] if ast.get_docstring(node) else None
    return last - node.lineno + 1 - ((told.end_lineno or 0) - told.lineno + 1 if told else 0)


def test_functions_are_short() -> None:
    lengths = {
        f"{name_of(path)}:{node.name}": length(node)
        for path in EVERYTHING
        for node in functions(path)
    }
    assert {name: n for name, n in lengths.items() if n > MOST_FUNCTION_LINES} == {}


def test_functions_take_few_positional_arguments() -> None:
    taken = {
        f"{name_of(path)}:{node.name}": len(node.args.posonlyargs) + len(node.args.args)
        for path in EVERYTHING
        for node in functions(path)
        if not any("callback" in ast.unparse(each) for each in node.decorator_list)
    }
    assert {name: n for name, n in taken.items() if n > MOST_POSITIONAL} == {}


# Told


def _public(node: ast.Module | ast.ClassDef, prefix: str) -> Iterator[tuple[str, ast.AST]]:
    for child in node.body:
        named = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)
        if not named or child.name.startswith("_"):
            continue
        yield f"{prefix}.{child.name}", child
        if isinstance(child, ast.ClassDef):
            yield from _public(child, f"{prefix}.{child.name}")


def test_everything_public_says_what_it_is() -> None:
    silent = []
    for path in HARVEST:
        tree = tree_of(path)
        documented = [(name_of(path), tree), *_public(tree, name_of(path))]
        silent += [
            name
            for name, node in documented
            if not ast.get_docstring(node)  # type: ignore[arg-type]
        ]
    assert silent == []


def test_every_argument_and_result_has_a_type() -> None:
    untyped = [
        f"{name_of(path)}:{node.lineno} {node.name}"
        for path in sources("harvest", "dashboard")
        for node in functions(path)
        if node.returns is None
        or any(
            argument.annotation is None
            for argument in [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
            if argument.arg not in ("self", "cls")
        )
    ]
    assert untyped == []


# Importing starts nothing

WATCHED = """
import importlib, json, os, sys
events = []
def watch(event, args):
    if "__pycache__" in repr(args):
        return
    if event == "open":
        path = os.fspath(args[0]) if isinstance(args[0], (str, os.PathLike)) else ""
        writes = isinstance(args[1], str) and any(letter in args[1] for letter in "wax+")
        if writes or path.endswith((".csv", ".json", ".sqlite", ".sqlite3", ".db", ".xlsx")):
            if "site-packages" not in path:
                events.append(f"{event} {path}")
    elif event.startswith(("socket.connect", "socket.bind", "socket.getaddrinfo", "sqlite3.connect",
                           "subprocess.", "os.system", "os.mkdir", "os.remove", "os.rename",
                           "urllib.")):
        events.append(f"{event} {args!r}")
sys.addaudithook(watch)
names = json.loads(sys.argv[1])
for name in names:
    importlib.import_module(name)
print(json.dumps({"events": events, "loaded": sorted(sys.modules)}))
"""


def watched_import(names: list[str], home: Path) -> dict[str, list[str]]:
    """Import modules in a fresh Python; what they opened, and what came along."""
    environment = os.environ | {"HOME": str(home), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(
        [sys.executable, "-c", WATCHED, json.dumps(names)],
        capture_output=True, text=True, cwd=ROOT, env=environment, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    told: dict[str, list[str]] = json.loads(done.stdout.splitlines()[-1])
    return told


def module_name(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def test_importing_anything_reads_no_data_and_opens_no_socket(tmp_path: Path) -> None:
    names = [module_name(path) for path in sources("harvest", "dashboard")]
    assert watched_import(names, tmp_path)["events"] == []
    assert list(tmp_path.iterdir()) == []


def test_the_watch_would_see_a_file_and_a_database_opened(tmp_path: Path) -> None:
    (tmp_path / "guilty.py").write_text(
        "import sqlite3\nopen('x.csv', 'w').close()\nsqlite3.connect('x.sqlite').close()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", WATCHED, '["guilty"]'],
        capture_output=True, text=True, check=True,
        cwd=tmp_path, env=os.environ | {"PYTHONPATH": str(tmp_path)},
    )  # fmt: skip
    told = json.loads(done.stdout)["events"]
    assert len(told) >= 2
    assert any("x.csv" in event for event in told)
    assert any("sqlite3.connect" in event for event in told)


def test_the_command_line_starts_without_the_heavy_libraries(tmp_path: Path) -> None:
    loaded = set(watched_import(["harvest.cli.main"], tmp_path)["loaded"])
    heavy = {"sklearn", "scipy.stats", "numba", "meteostat", "plotly", "dash", "openpyxl",
             "dash_mantine_components", "matplotlib", "alembic"}  # fmt: skip
    assert loaded & heavy == set()
