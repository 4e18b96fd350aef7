"""Round the table of records: two versions, a tree's history, warnings, what was done."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import paths
from dashboard.address import View
from dashboard.components import pieces
from dashboard.data import (
    BatchEntry,
    ChangeEntry,
    Doubt,
    HarvestError,
    attachments,
    history,
    tree_history,
)
from dashboard.entries import reason_of
from dashboard.measures import retold
from dashboard.paths import link
from dashboard.source import Source
from dashboard.texts import records as record_texts
from dashboard.texts import settings as setting_texts
from dashboard.views.records import (
    Conflict,
    Outcome,
    cell_words,
    change_words,
    counts_words,
    name_of,
    record_words,
    when,
)
from dashboard.words import redated, short_date, shown

MOST_LATELY, MOST_DOUBTS, MOST_CHANGES, MOST_PHOTOS = 12, 40, 60, 24


def said_of(outcome: Outcome) -> list[pieces.Node]:
    """An outcome on the page, with its way back."""
    if not outcome.words:
        return []
    return [html.Bdi(outcome.words), _undo(outcome.batch)] if outcome.batch else [outcome.words]


def _undo(number: int, label: str = record_texts.UNDO) -> Component:
    return html.Button(label, type="button", className="log-chip", **_data(undo=f"{number}"))


def _data(**named: str) -> dict[str, Any]:
    return {f"data-{name}": value for name, value in named.items()}


def conflict_table(conflict: Conflict) -> list[Component]:
    """Both versions of a record, where they differ."""
    head = html.Tr([html.Th(words) for words in record_texts.CONFLICT_COLUMNS])
    rows = [
        html.Tr(
            [
                html.Th(name_of(name)),
                *(html.Td(html.Bdi(cell_words(name, v) if v else "–")) for v in values),
            ]
        )
        for name, *values in conflict.rows()
    ]
    told = record_texts.CONFLICT_TOLD.format(record=record_words(conflict.kind, conflict.now.cells))
    return [
        html.H2(record_texts.CONFLICT_TITLE),
        html.P(told),
        html.Table([html.Thead(head), html.Tbody(rows)]),
    ]


def below(source: Source, tree: str) -> list[Component | None]:
    """One tree's history where it is asked for, and what was done lately."""
    lately = history(source.orchard, MOST_LATELY)
    return [
        _tree_history(source, tree) if tree else None,
        _photos(source, tree) if tree else None,
        pieces.section(
            record_texts.LATELY_TITLE,
            html.Ul([_lately(entry) for entry in lately], className="records-list"),
        )
        if lately
        else None,
    ]


def _lately(entry: BatchEntry) -> Component:
    words = record_texts.LATELY_LINE.format(
        when=when(entry), who=shown(entry.who), note=_note(entry),
        action=record_texts.ACTIONS.get(entry.action, entry.action), counts=counts_words(entry),
    )  # fmt: skip
    label = record_texts.UNDO_IMPORT if entry.action == "import" else record_texts.UNDO
    back = f" · {record_texts.LATELY_UNDONE}" if entry.undone_by else _undo(entry.number, label)
    return html.Li([html.Bdi(words), back])


def _note(entry: BatchEntry) -> str:
    """What a change was about, a setting in the words of the page of settings."""
    note = entry.note
    if entry.action in ("setting", "undo"):
        note = "; ".join(map(_setting_words, note.split("; ")))
    note = shown(note, 90)
    if entry.action == "confirm":
        return retold(note)
    if entry.action in record_texts.DATED:
        return redated(note)
    if entry.action in ("import", "undo"):  # after the name of a file
        name, colon, rest = note.partition(": ")
        return f"{name}{colon}{redated(rest)}"
    return note


def _setting_words(change: str) -> str:
    """`units: metric → us` in the words of the page of settings, without their examples."""
    name, _, values = change.partition(": ")
    words = setting_texts.CHOICES.get(name, {})
    told = " → ".join(
        words[value].partition(":")[0] if value in words else value for value in values.split(" → ")
    )
    labels = setting_texts.LABELS | setting_texts.ABOUT
    return f"{labels[name]}: {told}" if name in labels else change


def _tree_history(source: Source, tree: str) -> Component:
    try:
        changes: Sequence[ChangeEntry] = tree_history(source.orchard, tree)[:MOST_CHANGES]
    except HarvestError as error:
        return pieces.section(record_texts.TREE_TITLE.format(tree=shown(tree)), reason_of(error))
    if not changes:
        lines: list[pieces.Node] = [record_texts.TREE_NONE]
    else:
        lines = [_changes(changes[:MOST_LATELY])]
    if changes[MOST_LATELY:]:
        older = record_texts.TREE_OLDER.format(count=len(changes) - MOST_LATELY)
        fold = [html.Summary(older), _changes(changes[MOST_LATELY:])]
        lines.append(html.Details(fold, className="fold"))
    return pieces.section(record_texts.TREE_TITLE.format(tree=shown(tree)), *lines)


def _changes(changes: Sequence[ChangeEntry]) -> Component:
    return html.Ul([_change(each) for each in changes], className="records-list")


def _change(change: ChangeEntry) -> Component:
    """One change of a tree's records; what came with a whole file is not taken back from here."""
    record = shown(change.record)
    words = record_texts.TREE_LINE.format(
        when=when(change), who=shown(change.who), kind=record_texts.KIND_COUNTS[change.kind][0],
        action=record_texts.ACTIONS.get(change.action, change.action),
        record=record if change.kind == "attachments" else redated(record),
    )  # fmt: skip
    what = change_words(change)
    if what:
        words = record_texts.TREE_WHAT.format(line=words, what=what)
    back: pieces.Node | None = None
    if change.undone:
        back = f" · {record_texts.LATELY_UNDONE}"
    elif change.action != "import":
        back = _undo(change.number)
    return html.Li([html.Bdi(words), back])


def _photos(source: Source, tree: str) -> Component | None:
    """What hangs on a tree and its records."""
    try:
        found = attachments(source.orchard, tree)
    except HarvestError:
        return None
    if not found:
        return None
    items = []
    for each in found[:MOST_PHOTOS]:
        address, name = f"entries/photo/{each.sha256}", shown(each.filename, 60)
        told = record_texts.PHOTO_LINE.format(
            kind=record_texts.KIND_COUNTS.get(each.kind, (each.kind,))[0],
            date=redated(f"{each.date}"), who=shown(each.who),
        )  # fmt: skip
        picture = html.Img(src=address, alt=name) if each.media_type.startswith("image/") else name
        items.append(html.Li(html.Figure([html.A(picture, href=address), html.Figcaption(told)])))
    return pieces.section(
        record_texts.PHOTOS_TITLE.format(tree=shown(tree)), html.Ul(items, className="photos")
    )


def _look(doubt: Doubt) -> str:
    return link(paths.RECORDS, View().choosing(kind=doubt.kind, tree=doubt.tree))


def doubts_part(found: Sequence[Doubt]) -> Component:
    """Records that look wrong, each with what can be done about it."""
    title = record_texts.CHECK_TITLE.format(count=len(found))
    if not found:
        return pieces.section(title, html.P(record_texts.CHECK_NONE))
    lines = [
        html.Li(
            [
                html.Bdi(
                    record_texts.CHECK_LINE.format(
                        tree=shown(each.tree), date=short_date(each.date), said=retold(each.said)
                    )
                ),
                html.Span(
                    [
                        dcc.Link(
                            record_texts.LOOK,
                            href=_look(each),
                            className="log-chip",
                        ),
                        html.Button(
                            record_texts.LET_STAND, type="button", className="log-chip",
                            **_data(stand=each.code),
                        ),
                    ],
                    className="records-tools",
                ),
            ]
        )
        for each in found[:MOST_DOUBTS]
    ]  # fmt: skip
    more = len(found) - MOST_DOUBTS
    return pieces.section(
        title,
        html.P(record_texts.CHECK_TOLD),
        html.Ul(lines, className="records-list"),
        html.P(record_texts.CHECK_MORE.format(count=more)) if more > 0 else None,
    )
