"""Logging single records, through the same reading and checking as files.

All rows of one command go in, or none. What is on record already is not overwritten unless that
is asked for.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import pandas as pd
from sqlalchemy import Connection, insert, select

from harvest.errors import ConflictError, InputError
from harvest.records import HEADERS, KINDS, fields
from harvest.store.checking import key_of
from harvest.store.doubting import Judge
from harvest.store.history import Batch, Signature, batch
from harvest.store.importing import take_in
from harvest.store.measures import girth_cm, weight_kg
from harvest.store.naming import site_named, tree_ids, tree_named, trees_of
from harvest.store.orchard import Orchard
from harvest.store.parsing import Refusal, parse
from harvest.store.reading import read_kind
from harvest.store.schema import CHANGES, RECEIVED
from harvest.store.tablefile import TextTable

# Columns whose values are typed with their unit, and how such a value is read.
MEASURED = {"weight_kg": weight_kg, "graded_out_kg": weight_kg, "firmness_kg": weight_kg,
            "girth_cm": girth_cm}  # fmt: skip
# Growth stages that have a plain name in the trade, by their BBCH code.
STAGE_WORDS = {"full bloom": "65", "bloom": "65", "ripe": "87"}
MOST_NAMED = 5
# What is measured on one tree and seldom the same on the next.
OF_ONE_TREE = ("weight_kg", "graded_out_kg", "fruit_count", "girth_cm")


@dataclass(frozen=True)
class Subject:
    """Whom a record is about, as typed: one tree, all trees of a kind, or a site.

    A site or a tree that is itself to be recorded stands among the cells, and nothing here. `each`:
    what is typed was measured on every one of the trees, not on all together.
    """

    tree: str = ""
    all_of: str = ""
    site: str = ""
    each: bool = False


@dataclass(frozen=True)
class LogReport:
    """What was logged."""

    kind: str
    rows: tuple[Mapping[str, str], ...]
    """The records, by column, as text."""
    new: int
    same: int
    changed: int
    warnings: tuple[Refusal, ...]
    batch: int | None
    """Number of the change in the history; None where all was on record already."""
    ids: tuple[int, ...] = ()
    """Ids of the records, for what is to be attached to them; none of a trial."""
    asks: bool = False
    """Whether nothing was logged because it looks odd, and that was asked for."""


def log_records(
    orchard: Orchard,
    kind: str,
    about: Subject,
    cells: Mapping[str, str],
    *,
    today: date,
    signed: Signature,
    replace: bool = False,
    trial: bool = False,
    ask: bool = False,
    entry: str | None = None,
    judge: Judge | None = None,
) -> LogReport:
    """Log one record, or one for each tree of a kind.

    Parameters
    ----------
    cells : what was typed, by column; weights and girths with their unit. `date` must be there
        where the kind has one.
    today : the last day a record may be dated.
    ask : log nothing where a record looks odd though it can be right; the report says so.
    entry : an id given by whoever sends it; what arrived before under the same id is not logged
        again: the report then has no rows, and the number of the change made then.

    Raises InputError with the reason where a value cannot be used, a name fits none or several,
    and ConflictError where another value is on record; then nothing has gone in.
    """
    typed = _typed(cells)
    day = _day(typed.get("date", ""), today)
    with orchard.writing() as connection, batch(connection, "log", signed) as made:
        before = None if entry is None else _arrived(connection, entry)
        if before is not None:
            ids = _changed(connection, kind, before.batch)
            return LogReport(kind, (), 0, 0, 0, (), before.batch, ids)
        rows = [{**owner, **typed} for owner in owners(connection, kind, about, day)]
        _refuse_a_sum(rows, about)
        made.note = f"{kind}: {_whom(rows)}"
        table = as_table(kind, rows)
        report = take_in(made, kind, table, today=today, judge=judge)
        if report.refused:
            raise _refusal(report.refused, rows)
        if report.changed and not replace:
            raise _on_record(made, kind)
        asks = ask and bool(report.warnings)
        made.trial = trial or asks
        ids = () if made.trial else _ids(connection, kind, table)
        if entry is not None:
            at = signed.at and signed.at.replace(tzinfo=None)
            there = insert(RECEIVED).values(entry=entry, batch_id=made.number, received_at=at)
            connection.execute(there)
    return LogReport(
        kind, tuple(rows), report.new, report.same, report.changed, report.warnings, made.number,
        ids, asks,
    )  # fmt: skip


def _refuse_a_sum(rows: Sequence[Mapping[str, str]], about: Subject) -> None:
    """Raise InputError where one weight, count or girth would be written to several trees."""
    found = [name for name in OF_ONE_TREE if rows[0].get(name)] if len(rows) > 1 else []
    if found and not about.each:
        name = found[0]
        unit = name.rpartition("_")[2] if name in MEASURED else ""
        what = name.removesuffix(f"_{unit}").replace("_", " ")
        amount = f"{rows[0][name]} {unit}".strip()
        raise InputError(
            f"what is logged as {what} is that of one tree",
            given=f"{amount} for {len(rows)} trees: {_whom(rows)}",
            where=name,
            todo=f"If every one of them had {amount}, say so with --each. If it is what they gave "
            "together, how much each gave is not known: log what you weighed or counted tree by "
            "tree. Nothing was logged.",
        )


def as_table(kind: str, rows: Sequence[Mapping[str, str]]) -> TextTable:
    """Rows of text as if they had been read from a file; the columns are those of the kind."""
    names = [f.header for f in fields(kind) if f.column_needed or any(f.header in r for r in rows)]
    cells = [[row.get(name, "") for name in names] for row in rows]
    frame = pd.DataFrame(
        cells, columns=pd.Index(names), index=range(1, len(rows) + 1), dtype=object
    )
    return TextTable(frame, "log", "utf-8", ",", "")


def owners(connection: Connection, kind: str, about: Subject, day: date) -> list[dict[str, str]]:
    """The trees or the site that records are about, by their full names."""
    if kind in ("sites", "trees"):
        return [{}]
    if about.site:
        if "site" not in KINDS[kind].owner:
            raise InputError(f"{kind} are logged for trees", given=f"the site {about.site!r}")
        return [{"tree": "", "site": site_named(connection, about.site)}]
    if about.all_of:
        return [{"tree": name} for name in trees_of(connection, about.all_of, day)]
    return [{"tree": tree_named(connection, about.tree, day)}]


def in_our_units(cells: Mapping[str, str]) -> dict[str, str]:
    """Cells typed with their unit in ours: `12.4kg` is 12.4 in the column of kilograms.

    Raises InputError, with the column, for what is not understood.
    """
    out = dict(cells)
    for name, read in MEASURED.items():
        if out.get(name):
            try:
                out[name] = f"{read(out[name]):.10g}"
            except InputError as error:
                raise InputError(
                    error.required, given=error.given, where=name, todo=error.todo
                ) from error
    return out


def _typed(cells: Mapping[str, str]) -> dict[str, str]:
    """Cells as the checks take them."""
    out = in_our_units(cells)
    if "bbch" in out:
        out["bbch"] = STAGE_WORDS.get(out["bbch"].strip().casefold(), out["bbch"])
    return out


def _ids(connection: Connection, kind: str, table: TextTable) -> tuple[int, ...]:
    """Ids of the records that rows are on record as."""
    rows = parse(kind, table).rows
    days = rows.get("date")
    own_trees = "tree" in rows and rows["tree"].notna().all()
    stored = read_kind(
        connection,
        kind,
        since=None if days is None else days.min().date(),
        until=None if days is None else days.max().date(),
        trees=tree_ids(connection, rows["tree"]) if own_trees else None,
        with_id=True,
    )
    own = key_of(kind, stored).isin(key_of(kind, rows))
    return tuple(int(record) for record in stored.loc[own, "id"])


def _changed(connection: Connection, kind: str, number: int | None) -> tuple[int, ...]:
    """Ids of the records that a change was about."""
    query = select(CHANGES.c.record_id).where(CHANGES.c.batch_id == number, CHANGES.c.kind == kind)
    return tuple(int(record) for record in connection.execute(query).scalars())


@dataclass(frozen=True)
class _Arrived:
    """An entry that came in before, and the number of the change it made, if it made one."""

    batch: int | None


def _arrived(connection: Connection, entry: str) -> _Arrived | None:
    query = select(RECEIVED.c.batch_id).where(RECEIVED.c.entry == entry)
    row = connection.execute(query).first()
    return None if row is None else _Arrived(row[0])


def _day(text: str, today: date) -> date:
    try:
        return date.fromisoformat(text[:10])
    except ValueError:
        return today  # the checks say what is wrong with it


def _whom(rows: Sequence[Mapping[str, str]]) -> str:
    names = [row.get("tree") or row.get("site") or "" for row in rows]
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return ", ".join(names[:MOST_NAMED]) + more


def _refusal(refused: Sequence[Refusal], rows: Sequence[Mapping[str, str]]) -> InputError:
    first = refused[0]
    tree = rows[first.line - 1].get("tree") if 0 < first.line <= len(rows) else ""
    also = f" {len(refused) - 1} more rows were refused." if len(refused) > 1 else ""
    return InputError(
        first.reason,
        given=repr(first.value) if first.value else "nothing",
        where=f"{tree}, {first.column}" if tree else first.column,
        todo=f"{first.todo} Nothing was logged.{also}".strip(),
    )


def _on_record(made: Batch, kind: str) -> ConflictError:
    """What stands there already, told from what the batch was about to change."""
    query = select(CHANGES.c.before).where(
        CHANGES.c.batch_id == made.number, CHANGES.c.before.is_not(None)
    )
    rows = made.connection.execute(query).scalars().all()
    before = json.loads(rows[0])
    told = ", ".join(
        f"{HEADERS.get(name, name)} {'blank' if value is None else value}"
        for name, value in before.items()
    )
    todo = "To correct it, add --replace."
    if kind == "picks":
        todo = f"If it was a second picking on that day, number it: --pass 2. {todo}"
    return ConflictError(
        f"{kind} already on record must not be overwritten unasked",
        given=f"{told} on record" + (f", and {len(rows) - 1} more" if len(rows) > 1 else ""),
        todo=f"Nothing was logged. {todo}",
    )
