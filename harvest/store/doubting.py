"""What in the records is in doubt, and what of it a person let stand."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd
from sqlalchemy import Connection, select

from harvest.errors import InputError
from harvest.records import Records
from harvest.store.history import Signature, batch
from harvest.store.naming import tree_ids, tree_named
from harvest.store.orchard import Orchard
from harvest.store.reading import read_tree_records
from harvest.store.schema import DISMISSED

# From records to doubts about them, as `harvest.store.rules.doubts` has them.
Judge = Callable[[Records], pd.DataFrame]
JUDGED = ("stages", "picks", "thinnings", "girths")
CODE_LENGTH = 8


@dataclass(frozen=True)
class Doubt:
    """A record that looks wrong though it can be right."""

    code: str
    """A short name to let it stand by; the same as long as the record is."""
    rule: str
    kind: str
    tree: str
    date: date
    said: str
    facts: str


def code_of(rule: str, facts: str) -> str:
    """Short name of a doubt."""
    return hashlib.sha256(f"{rule}|{facts}".encode()).hexdigest()[:CODE_LENGTH]


def open_doubts(
    orchard: Orchard, judge: Judge, as_of: date, tree: str | None = None
) -> list[Doubt]:
    """All doubts that nobody has let stand, by tree and date; or those about one tree.

    Raises as `tree_named` where a tree is named.
    """
    with orchard.reading() as connection:
        names = None if tree is None else [tree_named(connection, tree, as_of)]
        ids = None if names is None else tree_ids(connection, names)
        found = _open(connection, judge(read_tree_records(connection, as_of, ids)))
    found = found.sort_values(["tree", "date", "rule"], kind="stable")
    return [
        Doubt(
            code=code_of(row["rule"], row["facts"]),
            **{name: row[name] for name in ("rule", "kind", "tree", "said", "facts")},
            date=row["date"].date(),
        )
        for row in found.to_dict("records")
    ]


def doubts_about(
    connection: Connection, judge: Judge, kind: str, rows: pd.DataFrame, as_of: date
) -> pd.DataFrame:
    """Open doubts about rows just written: columns line (the rows' index), rule, said."""
    none = pd.DataFrame(columns=["line", "rule", "said"])
    if kind not in JUDGED or rows.empty:
        return none
    trees = sorted({int(tree) for tree in rows["tree_id"]})
    records = read_tree_records(connection, as_of, trees)
    found = judge(records)
    found = _open(connection, found[found["kind"] == kind])
    if found.empty:
        return none
    second = {"picks": "pass_number", "stages": "bbch", "thinnings": "action"}.get(kind)
    own = getattr(records, kind).loc[found["row"]]
    where = pd.DataFrame({"rule": found["rule"].to_numpy(), "said": found["said"].to_numpy()})
    return where.assign(**_key(own, second)).merge(
        pd.DataFrame({"line": rows.index, **_key(rows, second)}),
        on=["tree", "date", "second"],
    )[["line", "rule", "said"]]


def _key(rows: pd.DataFrame, second: str | None) -> dict[str, np.ndarray]:
    other = rows[second].fillna(-1).astype(str) if second else pd.Series("", rows.index)
    return {
        "tree": rows["tree"].str.casefold().to_numpy(),
        "date": rows["date"].to_numpy(),
        "second": other.to_numpy(),
    }


def _open(connection: Connection, found: pd.DataFrame) -> pd.DataFrame:
    rows = connection.execute(select(DISMISSED.c.rule, DISMISSED.c.facts)).all()
    settled = {(rule, facts) for rule, facts in rows}
    if not settled:
        return found
    keep = [pair not in settled for pair in zip(found["rule"], found["facts"], strict=True)]
    return found[keep]


def dismiss(
    orchard: Orchard, judge: Judge, codes: Sequence[str], *, as_of: date, signed: Signature
) -> list[Doubt]:
    """Let doubts stand, by their codes or the beginning of them; with what they were.

    Raises InputError for a code that names none of them, or several.
    """
    known = open_doubts(orchard, judge, as_of)
    chosen = [_coded(known, code) for code in codes]
    at = signed.at and signed.at.replace(tzinfo=None).isoformat()
    with orchard.writing() as connection:
        rows = connection.execute(select(DISMISSED.c.rule, DISMISSED.c.facts)).all()
        settled = {(rule, facts) for rule, facts in rows}
        new = [d for d in dict.fromkeys(chosen) if (d.rule, d.facts) not in settled]
        note = "; ".join(f"{doubt.tree}, {doubt.date}: {doubt.rule}" for doubt in new)
        with batch(connection, "let stand", signed, note) as made:
            made.insert("dismissed", {
                "rule": [doubt.rule for doubt in new],
                "facts": [doubt.facts for doubt in new],
                "who": [signed.who] * len(new),
                "dismissed_at": [at] * len(new),
            })  # fmt: skip
    return chosen


def _coded(known: Sequence[Doubt], code: str) -> Doubt:
    fitting = [doubt for doubt in known if code and doubt.code.startswith(code.casefold())]
    if len(fitting) == 1:
        return replace(fitting[0])
    raise InputError(
        "a code must name one open warning",
        given=f"{code!r}, which names {len(fitting)}",
        todo="'harvest check' lists the codes.",
    )
