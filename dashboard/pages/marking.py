"""Marking items of the calendar from a page: done, put off, off, on, added, and taken back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboard import ids, paths
from dashboard.address import View, view_of_search
from dashboard.components.pieces import aria, data
from dashboard.data import (
    CalendarItem,
    HarvestError,
    HeatSum,
    Marked,
    WeekTask,
    add_item,
    mark_done,
    put_off,
    signed,
    switch_off,
    switch_on,
    undo_batch,
)
from dashboard.entries import reason_of
from dashboard.paths import link
from dashboard.security import LOG, may
from dashboard.source import Source
from dashboard.texts import week as week_words
from dashboard.texts import year as words
from dashboard.words import listing, shown

MOST_NAMES = 6
Act = Callable[[Source, str, date], Marked]


@dataclass(frozen=True)
class Outcome:
    """What is said after marking, and the change to be undone by; None where there is none."""

    words: str
    batch: int | None = None


def _off_kind(source: Source, target: str, as_of: date) -> Marked:
    kind, _, site = target.partition("@")
    return switch_off(
        source.orchard, kind, as_of, signed(), site=site or None, known=source.known(as_of)
    )


def _on(source: Source, target: str, _: date) -> Marked:
    return switch_on(source.orchard, target, signed())


ACTS: dict[str, Act] = {
    "done": lambda source, code, day: mark_done(
        source.orchard, code, day, signed(), known=source.known(day)
    ),
    "open": lambda source, code, day: mark_done(
        source.orchard, code, day, signed(), undo=True, known=source.known(day)
    ),
    "later": lambda source, code, day: put_off(
        source.orchard, code, day, signed(), known=source.known(day)
    ),
    "off": lambda source, code, day: switch_off(
        source.orchard, code, day, signed(), known=source.known(day)
    ),
    "off_kind": _off_kind,
    "on": _on,
}


def act(source: Source, do: str, code: str, as_of: date) -> Outcome:
    """Mark an item, or take a mark back, as whoever sent the request may."""
    if not may(LOG):
        return Outcome(words.MAY_NOT)
    try:
        if do == "undo":
            undo_batch(source.orchard, int(code), signed())
            return Outcome(words.SAID["undo"])
        return _told(do, ACTS[do](source, code, as_of))
    except HarvestError as error:
        return Outcome(words.REFUSED.format(reason=reason_of(error)))


def added(
    source: Source, site: str, title: str, when: tuple[date, date] | HeatSum, as_of: date,
    *, what: str | None = None, why: str | None = None,
) -> Outcome:  # fmt: skip
    """Add an item of one's own, for days or by a sum of degree days."""
    if not may(LOG):
        return Outcome(words.MAY_NOT)
    try:
        orchard = source.orchard
        made = add_item(orchard, site, title, when, as_of, signed(), why=why, what=what)
    except HarvestError as error:
        return Outcome(words.REFUSED.format(reason=reason_of(error)))
    return _told("add", made)


def _told(do: str, made: Marked) -> Outcome:
    if made.batch is None:
        return Outcome(words.NOTHING)
    what = made.note.partition(": ")[2] or made.note
    return Outcome(words.SAID[do].format(what=shown(what, 120)), made.batch)


def buttons(page: str, item: CalendarItem | WeekTask, does: Sequence[str]) -> Component | None:
    """What can be done with an item, as buttons; nothing for what is no item of the calendar."""
    if item.code is None:
        return None
    names = {
        "done": words.DONE, "open": words.NOT_DONE, "later": words.PUT_OFF, "off": words.OFF,
    }  # fmt: skip
    made = [button(page, do, item.code, names[do], item.title, item.what or item.site)
            for do in does]  # fmt: skip
    return html.Div(made, className="mark-buttons")


def button(page: str, do: str, code: str, name: str, *about: str) -> Component:
    """One button that marks."""
    said = ", ".join(shown(part, 60) for part in about)
    return html.Button(
        name,
        type="button",
        className="mark",
        **data(store=store_of(page), do=do, code=code),
        **aria(label=f"{name}: {said}" if said else name),
    )


def store_of(page: str) -> str:
    """Id of where `assets/marks.js` puts the button that was pressed: a page has hundreds of them,
    too many to be inputs of a callback each."""
    return f"{page}-marked"


def place(page: str, said: str) -> list[Component]:
    """Where is told what was done, under the id `said`, and which button was pressed."""
    return [html.Div(id=said, role="status"), dcc.Store(id=store_of(page))]


def said_of(page: str, outcome: Outcome) -> list[Component]:
    """An outcome on the page, with its way back."""
    line: list[Component] = [html.Bdi(outcome.words)]
    if outcome.batch is not None:
        line.append(button(page, "undo", str(outcome.batch), words.UNDO))
    return [html.P(line, className="mark-said")]


def held_line(trees: Sequence[str], view: View) -> Component | None:
    """That fruit may be neither picked nor tasted yet, and the way to the reasons."""
    if not trees:
        return None
    said = week_words.HELD.format(trees=listing([shown(tree) for tree in trees], MOST_NAMES))
    return html.P(
        [
            html.Span(className="sign blocked", **aria(hidden="true")),
            dcc.Link(said, href=link(paths.MAY_I_PICK, view)),
        ],
        className="blocked-line",
    )


def connect(
    app: Dash,
    source: Source,
    page: str,
    parts: tuple[str, str],
    body: Callable[[Source, View], list[Component]],
) -> None:
    """Do what a button of a page says, tell it, and show the page's body anew.

    Parameters
    ----------
    parts : ids of the body and of where is told what was done.
    body : makes the body.
    """

    @app.callback(
        Output(parts[0], "children"),
        Output(parts[1], "children"),
        Input(store_of(page), "data"),
        State(ids.ADDRESS, "search"),
        prevent_initial_call=True,
        running=[(Output(parts[1], "className"), "marking", "")],
    )
    def mark(used: dict[str, str] | None, search: str | None) -> tuple[Any, Any]:
        if not used:
            return no_update, no_update
        view = view_of_search(search, source.latest_date())
        as_of = view.as_of or source.home_date()
        outcome = act(source, used["do"], used["code"], as_of)
        return body(source, view), said_of(page, outcome)
