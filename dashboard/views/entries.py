"""Entries as a page sends them, and what is said of them: read, judged, told in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from dashboard.measures import NBSP, cell, unit
from dashboard.texts import log as log_texts
from dashboard.texts import records as record_texts
from dashboard.words import day, shown

MOST_ID, MOST_CELL, MOST_CELLS, MOST_NAME = 64, 10_000, 40, 200
WORDS = {"sites": record_texts.WORDS_SITE, "trees": record_texts.WORDS_TREE}
WHO_SORTS = ("tree", "all_of", "site")


@dataclass(frozen=True)
class Photo:
    """A picture sent with an entry: its file's name, and its bytes in base64."""

    name: str
    data: str


@dataclass(frozen=True)
class Entry:
    """One entry as it was sent."""

    id: str
    kind: str
    who: Mapping[str, str]
    """One of tree, all_of, site: the name as typed."""
    cells: Mapping[str, str]
    sure: bool = False
    """Whether the person looked at the warnings and wants it kept."""
    replace: bool = False
    photo: Photo | None = None
    by: str = ""
    """Who was signed in where it was made; blank where nobody has to sign in."""


@dataclass(frozen=True)
class Reply:
    """What became of an entry: kept, asks, on record, refused, or another person's."""

    status: str
    words: str = ""
    batch: int | None = None
    field: str = ""
    """The column that has to be mended; `who` for whom it is about."""
    reason: str = ""
    notes: tuple[str, ...] = ()


def entry_of(body: object) -> Entry | None:
    """Read an entry from JSON; None where it is no entry at all."""
    if not isinstance(body, dict):
        return None
    sent_id, kind, who = body.get("id"), body.get("kind"), body.get("who")
    cells = body.get("cells")
    if not (isinstance(sent_id, str) and 0 < len(sent_id) <= MOST_ID and isinstance(kind, str)):
        return None
    if kind not in record_texts.KIND_NAMES or not (_plain(who) and _plain(cells)):
        return None
    assert isinstance(who, dict)
    assert isinstance(cells, dict)
    return Entry(
        id=sent_id,
        kind=kind,
        who={sort: who[sort] for sort in WHO_SORTS if who.get(sort)},
        cells={name: text for name, text in cells.items() if text.strip()},
        sure=body.get("sure") is True,
        replace=body.get("replace") is True,
        photo=_photo(body.get("photo")),
        by=str(body.get("by") or ""),
    )


def _plain(value: object) -> bool:
    """Whether it is a table of short texts by short names."""
    return (
        isinstance(value, dict)
        and len(value) <= MOST_CELLS
        and all(
            isinstance(name, str) and len(name) <= MOST_ID and isinstance(text, str)
            and len(text) <= MOST_CELL
            for name, text in value.items()
        )
    )  # fmt: skip


def _photo(value: object) -> Photo | None:
    if not isinstance(value, dict) or not isinstance(value.get("data"), str):
        return None
    return Photo(str(value.get("name", ""))[:MOST_NAME], value["data"])


def column_at(where: str, columns: Sequence[str]) -> str:
    """The column that an error is about, from the place it names; else whom the entry is about."""
    last = where.rsplit(", ", 1)[-1]
    return last if last in columns else "who"


def said(kind: str, rows: Sequence[Mapping[str, str]], latest: date) -> str:
    """Records in words: `Q3-01: picked 12.4 kg, 12 August`."""
    if not rows:
        return log_texts.SAID_AGAIN
    first = rows[0]
    if kind in WORDS:
        return WORDS[kind].format(name=shown(first.get(kind[:-1], "")))
    who = shown(first.get("tree") or first.get("site") or "")
    if len(rows) > 1:
        who = log_texts.SAID_MORE.format(first=who, count=len(rows) - 1)
    when = _date(first.get("date", ""), latest)
    return log_texts.SAID_WHOLE.format(who=who, what=_what(kind, first), date=when)


def _date(text: str, latest: date) -> str:
    try:
        return day(date.fromisoformat(text[:10]), latest)
    except ValueError:
        return shown(text)


def _what(kind: str, row: Mapping[str, str]) -> str:
    code, days = row.get("bbch", ""), row.get("withholding_days", "")
    known = {
        cells["bbch"]: names[0] for _, _, cells, names, _ in log_texts.ACTIONS if "bbch" in cells
    }
    stage = log_texts.SAID_STAGE if code in known else log_texts.SAID_STAGE_OTHER
    told = log_texts.SAID_DAYS if days else log_texts.SAID_DAYS_UNKNOWN
    return log_texts.SAID[kind].format(
        stage=stage.format(words=known.get(code, ""), code=code),
        weight=_measured(row.get("weight_kg", ""), "kg"),
        action=log_texts.SAID_ACTIONS.get(row.get("action", ""), shown(row.get("action", ""))),
        girth=_measured(row.get("girth_cm", ""), "cm"),
        product=shown(row.get("product", "")),
        days=told.format(days=days),
        event=shown(row.get("event", "")),
        cultivar=shown(row.get("cultivar", "")),
    )


def _measured(number: str, name: str) -> str:
    """A number to two places with its unit; what is none stays as it is."""
    try:
        return f"{cell(float(number), name, 2):g}{NBSP}{unit(name)}"
    except ValueError:
        return shown(number)
