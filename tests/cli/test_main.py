"""The front door: help for everything, usage errors, errors for people, which orchard."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import click
import pytest
import typer

from harvest.cli.context import ORCHARD_VARIABLE
from harvest.cli.main import app
from harvest.store.about import About, write_about
from harvest.store.orchard import create_orchard, open_orchard
from tests.cli.conftest import Harvest
from tests.orchards import plant

# Commands that people's scripts may rely on.
PROMISED = {"init", "import", "forecast", "yields", "crop-load", "demo", "dashboard", "weather"}

# Those whose results other programs read.
PRINT_RESULTS = {"import", "forecast", "backtest", "yields", "crop-estimate", "crop-load",
                 "withholding", "pollination", "climate-fit", "week", "history",
                 "weather status", "weather fetch", "weather import"}  # fmt: skip


def commands(
    group: click.Group | None = None, before: tuple[str, ...] = ()
) -> list[tuple[str, ...]]:
    """Every command by its words, those of groups too."""
    top = group or typer.main.get_command(app)
    found: list[tuple[str, ...]] = []
    for name, command in top.commands.items():  # type: ignore[union-attr]
        found.append((*before, name))
        if hasattr(command, "commands"):
            found += commands(command, (*before, name))
    return found


COMMANDS = commands()


def test_the_commands_promised_are_there() -> None:
    assert {words[0] for words in COMMANDS} >= PROMISED


@pytest.mark.parametrize("words", [(), *COMMANDS], ids=" ".join)
def test_every_command_has_help(harvest: Harvest, words: tuple[str, ...]) -> None:
    said = harvest(*words, "--help")
    assert said.code == 0
    assert said.err == ""
    assert f"Usage: harvest {' '.join(words)}".strip() in " ".join(said.out.split())


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_every_argument_and_option_says_what_it_is(words: tuple[str, ...]) -> None:
    command: click.Command = typer.main.get_command(app)
    for word in words:
        command = command.commands[word]  # type: ignore[attr-defined]
    assert (command.help or "").endswith(".")
    for parameter in command.params:
        assert getattr(parameter, "help", None), (words, parameter.name)


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_every_command_that_prints_results_takes_the_three_formats(
    harvest: Harvest, words: tuple[str, ...]
) -> None:
    shown = harvest(*words, "--help").out
    assert "--format" in shown or " ".join(words) not in PRINT_RESULTS
    assert ("<table|json|csv>" in shown) is ("--format" in shown)


def test_no_arguments_show_the_help(harvest: Harvest) -> None:
    said = harvest()
    assert "Usage: harvest" in said.out + said.err
    assert "forecast" in said.out + said.err


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["harvset"], "No such command"),
        (["forecast", "--asof", "2026-05-01"], "No such option"),
        (["forecast", "--format", "xml"], "'xml' is not one of"),
        (["import", "picks"], "Missing argument 'file'"),
        (["import", "pears", "x.csv"], "'pears' is not one of"),
        (["demo", "--port", "99999"], "'--port'"),
        (["yields", "--season", "next"], "'--season'"),
    ],
)
def test_usage_errors_end_with_2(harvest: Harvest, arguments: list[str], message: str) -> None:
    said = harvest(*arguments)
    assert said.code == 2
    assert said.out == ""
    assert message in " ".join(re.sub(r"[│╭╰─╮╯]", " ", said.err).split())


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["forecast"], "an orchard must exist at this address; given: no file there. Make one"),
        (["import", "picks", "x.csv"], "an orchard must exist at this address"),
        (["--orchard", "mysql://x/y", "forecast"], "must be SQLite or PostgreSQL; given: 'mysql'"),
        (["--orchard", "/proc/nowhere/o.sqlite", "init"], "the orchard's folder must be writable"),
    ],
)
def test_other_errors_end_with_1_and_are_said_on_standard_error(
    harvest: Harvest, arguments: list[str], message: str
) -> None:
    said = harvest(*arguments)
    assert said.code == 1
    assert said.out == ""
    assert said.err.startswith("harvest: ")
    assert said.err.count("\n") == 1
    assert message in said.err


@pytest.mark.parametrize(
    ("day", "message"),
    [
        ("yesterday", "a date is written YYYY-MM-DD; given: 'yesterday'. Example: 2026-05-10."),
        ("2026-02-29", "a date is written YYYY-MM-DD; given: '2026-02-29'."),
        ("10/05/2026", "a date is written YYYY-MM-DD"),
        ("9999-12-31", "a date must lie in the years 1700 to 2200; given: '9999-12-31'."),
    ],
)
@pytest.mark.parametrize("command", ["forecast", "yields", "crop-load"])
def test_a_date_that_is_none(
    harvest: Harvest, tmp_path: Path, command: str, day: str, message: str
) -> None:
    create_orchard(str(tmp_path / "o.sqlite"))
    said = harvest("--orchard", tmp_path / "o.sqlite", command, "--as-of", day)
    assert (said.code, said.out) == (1, "")
    assert message in said.err


@pytest.mark.parametrize("command", ["forecast", "yields", "crop-load"])
@pytest.mark.parametrize("form", ["table", "json", "csv"])
def test_an_orchard_without_records_has_no_results(
    harvest: Harvest, tmp_path: Path, command: str, form: str
) -> None:
    create_orchard(str(tmp_path / "o.sqlite"))
    said = harvest("--orchard", tmp_path / "o.sqlite", command, "--format", form)
    assert (said.code, said.err) == (0, "")
    assert {"json": "[]\n", "csv": ""}.get(form, said.out) == said.out


# Which orchard


def named(path: Path, name: str) -> Path:
    write_about(create_orchard(str(path)), About(name=name))
    return path


def test_the_orchard_is_the_one_named_else_that_of_the_environment_else_the_users_own(
    harvest: Harvest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = tmp_path / "data" / "harvest" / "orchard.sqlite"
    said = harvest("init")
    assert said.code == 0
    assert str(own) in said.out
    assert own.is_file()
    other, third = tmp_path / "other.sqlite", tmp_path / "third.sqlite"
    monkeypatch.setenv(ORCHARD_VARIABLE, str(other))
    assert str(other) in harvest("init").out
    assert str(third) in harvest("--orchard", third, "init").out
    assert other.is_file()
    assert third.is_file()


def test_init_twice_keeps_what_is_there(harvest: Harvest, tmp_path: Path) -> None:
    path = tmp_path / "o.sqlite"
    assert harvest("--orchard", path, "init").code == 0
    plant(open_orchard(str(path)), tmp_path)
    assert harvest("--orchard", path, "init").code == 0
    assert '"Apple 1"' in harvest("--orchard", path, "forecast", "--format", "json").out


def test_an_orchard_on_postgresql_is_named_by_its_url(postgres_address: str) -> None:
    program = Path(sys.executable).with_name("harvest")
    for command, told in (
        (["init"], postgres_address.partition("?")[0]),
        (["yields", "--format", "json"], "[]"),
    ):
        done = subprocess.run(
            [program, "--orchard", postgres_address, *command],
            capture_output=True,
            text=True,
            check=True,
        )
        assert done.stderr == ""
        assert told in done.stdout
