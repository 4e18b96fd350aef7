"""Commands for the accounts of those who use the dashboard from other computers."""

from __future__ import annotations

import getpass
import sys
from datetime import UTC, datetime
from enum import StrEnum
from typing import Annotated

import typer

from harvest.cli.context import OutputFormat, opened
from harvest.cli.output import Format, print_csv, print_json, print_table, say
from harvest.errors import InputError
from harvest.service_people import (
    ROLES,
    add_person,
    change_password,
    change_role,
    read_people,
    remove_person,
)

people = typer.Typer(
    help="Accounts for a dashboard on a network: who may look, log, change, look after accounts.",
    invoke_without_command=True,
)


class Role(StrEnum):
    """What a person may do."""

    LOOK = "look"
    LOG = "log"
    CHANGE = "change"
    ACCOUNTS = "accounts"


Name = Annotated[str, typer.Argument(help="The person's name, as the history shall have it.")]


@people.callback()
def people_(context: typer.Context, form: OutputFormat = Format.TABLE) -> None:
    """List everyone with an account and what they may do."""
    if context.invoked_subcommand is not None:
        return
    found = read_people(opened(context))
    if form is Format.JSON:
        print_json([{"name": each.name, "role": each.role} for each in found])
    elif form is Format.CSV:
        print_csv([{"name": each.name, "role": each.role} for each in found])
    elif found:
        rows = [(each.name, each.role, ROLES[each.role]) for each in found]
        print_table("People", ("name", "role", "may do"), rows)
    else:
        say("Nobody has an account yet: 'harvest people add NAME --role accounts' makes one.")


@people.command("add")
def add(
    context: typer.Context,
    name: Name,
    role: Annotated[Role, typer.Option("--role", help="What the person may do.")],
) -> None:
    """Make an account; the password is asked for, or read from the input's first line."""
    orchard = opened(context)
    person = add_person(orchard, name, role.value, _password(), datetime.now(UTC))
    say(f"{person.name} {ROLES[person.role]}.")


@people.command("role")
def role_(
    context: typer.Context,
    name: Name,
    role: Annotated[Role, typer.Argument(help="What the person may do.")],
) -> None:
    """Let a person do more, or less."""
    change_role(opened(context), name, role.value)
    say(f"{name} {ROLES[role.value]}.")


@people.command("password")
def password(context: typer.Context, name: Name) -> None:
    """Give a person another password; they are signed out everywhere."""
    change_password(opened(context), name, _password())
    say(f"{name} has a new password and is signed out everywhere.")


@people.command("remove")
def remove(context: typer.Context, name: Name) -> None:
    """Take an account away; what the person did stays in the history."""
    remove_person(opened(context), name)
    say(f"{name} has no account any more.")


def _password() -> str:
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    first = getpass.getpass("Password: ")
    if getpass.getpass("Once more: ") != first:
        raise InputError("both times the same password is needed", given="two that differ")
    return first


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.add_typer(people, name="people")
