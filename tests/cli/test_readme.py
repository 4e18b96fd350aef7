"""The README names every command and no other, with options and columns that are there."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import click
import pytest
import typer

from harvest.cli.main import app
from harvest.records import KINDS, fields
from tests.cli.conftest import Harvest

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
WRITTEN_WITH_THE_DATE = "time_of_day"


def sessions() -> list[str]:
    """Commands typed in the README's terminal sessions."""
    fenced = re.findall(r"```text\n(.*?)```", README, re.DOTALL)
    return [line[2:] for text in fenced for line in text.splitlines() if line.startswith("$ ")]


def inline() -> list[str]:
    """Commands named in the README's running text and tables."""
    return re.findall(r"`(harvest [^`]+)`", README)


def command_of(words: list[str]) -> tuple[click.Command, list[str]]:
    """The command that the words name, and what is left of them. Raises KeyError for none."""
    command: click.Command = typer.main.get_command(app)
    rest = list(words)
    while rest and hasattr(command, "commands"):
        command = command.commands[rest.pop(0)]
    return command, rest


TYPED = [text for text in [*sessions(), *inline()] if text.startswith("harvest ")]


def test_the_readme_has_sessions_and_commands() -> None:
    assert len(sessions()) >= 5
    assert len(inline()) >= 8


@pytest.mark.parametrize("text", sorted(set(TYPED)))
def test_every_command_in_the_readme_exists_with_its_options(text: str) -> None:
    words = shlex.split(text.replace("…", "").replace("[", "").replace("]", ""))
    command, rest = command_of(words[1:])
    known = {option for parameter in command.params for option in parameter.opts}
    known |= {option for parameter in command.params for option in parameter.secondary_opts}
    assert {word for word in rest if word.startswith("--")} <= known


def test_every_command_is_in_the_readme() -> None:
    top = typer.main.get_command(app)
    named = {shlex.split(text.replace("…", ""))[1] for text in TYPED}
    assert set(top.commands) - named == set()  # type: ignore[attr-defined]


def columns(cell: str) -> set[str]:
    """Column names in a cell of the table of kinds; what stands in brackets explains."""
    return set(re.sub(r"\(.*?\)| or ", ",", cell).replace(" ", "").strip(",").split(",")) - {""}


@pytest.mark.parametrize("kind", KINDS)
def test_the_columns_in_the_readme_are_those_of_the_files(kind: str) -> None:
    row = re.search(rf"^\| `{kind}` \|(.*)\|(.*)\|$", README, re.MULTILINE)
    assert row is not None
    needed, optional = columns(row[1]), columns(row[2])
    found = [field for field in fields(kind) if field.header != WRITTEN_WITH_THE_DATE]
    owners = set(KINDS[kind].owner) if len(KINDS[kind].owner) > 1 else set()
    assert needed == {field.header for field in found if field.column_needed} | owners
    assert optional == {field.header for field in found if not field.column_needed} - owners


def test_the_demos_session_begins_and_ends_as_the_program_does(
    harvest: Harvest, demo: Path
) -> None:
    """Dates and chances move with the model; what they stand in does not."""
    session = re.search(r"```text\n\$ harvest demo --no-serve\n(.*?)```", README, re.DOTALL)
    assert session is not None
    shown = session[1].splitlines()
    said = harvest("--orchard", demo, "demo", "--no-serve").out.splitlines()
    assert shown[0] == said[0]
    assert shown[1].partition(" Its ")[2] == said[1].partition(" Its ")[2]
    assert shown[2].strip() == said[2].strip()
    assert re.split(r"\s*┃\s*", shown[4]) == re.split(r"\s*┃\s*", said[4])
    assert shown[-1] == said[-1]
