"""`harvest log`: one record at once, in few words; asks for what is missing where it can ask."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from typing import Annotated, Any

import typer

from harvest.cli.care import alarm
from harvest.cli.context import OutputFormat, parse_date, today_at_places
from harvest.cli.output import Format, as_plain, complain, print_csv, print_json, say
from harvest.cli.safekeeping import opened_to_write
from harvest.cli.signing import signature
from harvest.errors import InputError
from harvest.service_care import told_at_once
from harvest.service_forms import Column, event_names, log_columns
from harvest.service_records import (
    OF_ONE_TREE,
    LogReport,
    Subject,
    log_records,
    site_places,
)

# What can be logged: its kind of record, and the column that every such record has.
SORTS = {
    "pick": ("picks", "weight_kg", "Weight with its unit: 12.4kg, 800g, 27lb, 27lb 3oz."),
    "stage": ("stages", "bbch", "BBCH code, 65 for full bloom, 87 for ripe for picking."),
    "thinning": ("thinnings", "action", "strip (all fruit off) or thin (some)."),
    "girth": ("girths", "girth_cm", "Girth of the trunk with its unit: 12.5cm, 5in."),
    "spray": ("sprays", "product", "Name of the product, as on the label."),
    "event": ("events", "event", f"{', '.join(event_names())}."),
    "graft": ("grafts", "cultivar", "Cultivar that the tree was grafted over to."),
}
RELATIVE = ("today", "yesterday")
ASKED = {"withholding_days": "Withholding period on the label [days], blank if you do not know it"}
PLAIN = ("action", "product", "event", "cultivar")
LABEL = "The label is the law: what it says of the withholding period decides, not this program."

log = typer.Typer(help="Log one record now: pick, stage, thinning, girth, spray, event, graft.",
                  no_args_is_help=True)  # fmt: skip


def _command(sort: str) -> Callable[..., None]:
    """The command of one sort of record; an option for every column it may have."""
    kind, main, main_help = SORTS[sort]
    columns = [column for column in log_columns(kind) if column.name != main]

    def run(context: typer.Context, **given: Any) -> None:
        _log(context, sort, given)

    run.__doc__ = f"Log {'an' if sort[0] in 'aeiou' else 'a'} {sort}: today, or on another --date."
    parameters = [
        _parameter("context", typer.Context, inspect.Parameter.empty),
        _parameter("first", Annotated[str | None, typer.Argument(metavar="[TREE]", help=(
            "The tree, or a part of its name that fits no other."))], None),
        _parameter("second", Annotated[str | None, typer.Argument(
            metavar=f"[{main.partition('_')[0].upper()}]", help=main_help)], None),
        _option("all_of", "--all-of", 'Every standing tree of this cultivar, species or "row 3".'),
        *([_parameter("each", Annotated[bool, typer.Option("--each", help=(
            "With --all-of: every tree had this weight, count or girth of its own."))], False)]
          if any(column.name in OF_ONE_TREE for column in log_columns(kind)) else []),
        *([_option("site", "--site", "A whole site instead of a tree.")]
          if kind in ("sprays", "events") else []),
        _option("date", "--date", "today, yesterday or YYYY-MM-DD."),
        *([_option("time", "--time", "Time of day, as 06:30.")] if kind == "sprays" else []),
        *(_option(f"c_{c.name}", f"--{_word(c.name)}", c.help) for c in columns),
        _parameter("replace", Annotated[bool, typer.Option("--replace", help=(
            "Correct a record that is there with other values."))], False),
        _parameter("form", OutputFormat, Format.TABLE),
    ]  # fmt: skip
    run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    run.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
    return run


def _word(column: str) -> str:
    """An option's name: the column's, without its unit."""
    short = column.removesuffix("_kg").removesuffix("_days").removesuffix("_cm")
    return short.replace("_", "-")


def _parameter(name: str, annotation: Any, default: Any) -> inspect.Parameter:
    kind = inspect.Parameter.POSITIONAL_OR_KEYWORD
    return inspect.Parameter(name, kind, default=default, annotation=annotation)


def _option(name: str, word: str, told: str) -> inspect.Parameter:
    return _parameter(name, Annotated[str | None, typer.Option(word, help=told)], None)


def _log(context: typer.Context, sort: str, given: dict[str, Any]) -> None:
    kind, main, main_help = SORTS[sort]
    orchard = opened_to_write(context)
    now = datetime.now(UTC)
    about, value = _words(given)
    if not (about.tree or about.all_of or about.site):
        about = Subject(tree=_ask("the tree", "Which tree"))
    cells = {main: value or _ask(f"the {main.partition('_')[0]}", main_help.rstrip("."))}
    for column in log_columns(kind):
        if given.get(f"c_{column.name}") is not None:
            cells[column.name] = given[f"c_{column.name}"]
    for name, question in ASKED.items():
        if name not in cells and any(c.name == name for c in log_columns(kind)):
            cells[name] = _prompt(question, default="") if _can_ask() else ""
    today = today_at_places(site_places(orchard), now)
    if _date_word(given["date"]) in RELATIVE:  # there it may still be the day before
        today = today_at_places(site_places(orchard, about, today), now)
    day = _day(given["date"], today)
    cells["date"] = f"{day}T{_time(given['time'])}" if given.get("time") else f"{day}"

    def logged(trial: bool) -> LogReport:
        return log_records(orchard, kind, about, cells, today=today, signed=signature(),
                           replace=given["replace"], trial=trial)  # fmt: skip

    if _can_ask():
        _keep_or_end(logged(trial=True))
    report = logged(trial=False)
    _tell(sort, report, given["form"])
    for text in told_at_once(orchard, kind, report.rows, today):
        (alarm if given["form"] is Format.TABLE else complain)(text)


def _words(given: dict[str, Any]) -> tuple[Subject, str | None]:
    """Whom the words name, and what is said of them."""
    words = [word for word in (given["first"], given["second"]) if word is not None]
    many, site = given["all_of"] or "", given.get("site") or ""
    if many and site:
        raise typer.BadParameter("--all-of and --site do not go together.")
    if many or site:
        if len(words) > 1:
            raise typer.BadParameter("A tree is named besides --all-of or --site; leave one out.")
        about = Subject(all_of=many, site=site, each=given.get("each", False))
        return about, words[0] if words else None
    return Subject(tree=words[0] if words else ""), words[1] if len(words) > 1 else None


def _can_ask() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty()


def _ask(what: str, question: str) -> str:
    if not _can_ask():
        raise typer.BadParameter(f"{what[0].upper()}{what[1:]} is missing. {question}.")
    return _prompt(question)


def _prompt(question: str, default: str | None = None) -> str:
    return str(typer.prompt(question, default=default, show_default=False)).strip()


def _date_word(text: str | None) -> str:
    return (text or "today").strip().casefold()


def _day(text: str | None, today: date) -> date:
    word = _date_word(text)
    if word in RELATIVE:
        return today - timedelta(days=word == "yesterday")
    given = parse_date(word)
    assert given is not None
    if given > today:
        raise InputError(
            "a record must not lie in the future", given=f"{given}", todo=f"Today is {today}."
        )
    return given


def _time(text: str) -> str:
    """A time of day as HH:MM. Raises InputError."""
    try:
        return time.fromisoformat(text.strip().zfill(len("06:30"))).isoformat("minutes")
    except ValueError as error:
        raise InputError(
            "a time of day is written HH:MM", given=repr(text), todo="Example: 06:30."
        ) from error


def _keep_or_end(trial: LogReport) -> None:
    """Ask whether a record that looks wrong is right."""
    for note in trial.warnings:
        complain(f"{note.value}: {note.reason}.")
    if trial.warnings and not typer.confirm("Is it right, shall it be kept?"):
        say("Nothing was logged.")
        raise typer.Exit(1)


def _tell(sort: str, report: LogReport, form: Format) -> None:
    if form is Format.JSON:
        print_json([report])
    elif form is Format.CSV:
        print_csv([as_plain(row) for row in report.rows])
    else:
        for row in report.rows:
            facts = [_fact(n, v) for n, v in row.items()
                     if v and n not in ("tree", "site", "date")]  # fmt: skip
            whom = row.get("tree") or row.get("site")
            say(f"{whom}: {sort} of {row['date'].replace('T', ' ')}, {', '.join(facts)}.")
        say(_outcome(report))
        if sort == "spray":
            say(LABEL)
    for note in report.warnings:
        complain(f"Kept, but look: {note.value}: {note.reason}. {note.todo}".rstrip())


def _fact(column: str, value: str) -> str:
    """A value with its name and unit; `weight 12.4 kg`, `no crop`."""
    unit = Column.unit_of(column)
    if unit in ("kg", "cm") and value:  # what was typed in pounds or inches, to the gram
        value = f"{round(float(value), 3):g}"
    name = "" if column in PLAIN else "BBCH " if column == "bbch" else f"{_word(column)} "
    return f"{name}{value}{f' {unit}' if unit else ''}"


def _outcome(report: LogReport) -> str:
    if report.batch is None:
        return "All of it was on record already; nothing was changed."
    parts = [f"{n} {word}" for n, word in ((report.new, "logged"), (report.changed, "corrected"),
                                           (report.same, "on record already")) if n]  # fmt: skip
    return f"{', '.join(parts)}. To take it back: harvest undo (change {report.batch})."


for _sort in SORTS:
    log.command(_sort)(_command(_sort))


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.add_typer(log, name="log")
