"""What did you see or do: the form for the phone under the tree, made by a script of its own."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from dash import Dash, html
from dash.development.base_component import Component

from dashboard import entries, texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.data import BatchEntry, history
from dashboard.offline import version
from dashboard.security import LOG, may
from dashboard.source import Source
from dashboard.texts import log as log_texts
from dashboard.words import count, shown

FORM = "log-form"
LATELY = timedelta(days=7)
MOST_LOOKED_AT = 500


def render(source: Source, _view: View) -> Component:
    """The page; what may be logged does not hang on the view."""
    now = datetime.now(UTC).replace(tzinfo=None)
    return html.Div(
        pieces.page(
            texts.PAGE_TITLES["log"],
            pieces.answer(
                sentence(history(source.orchard, MOST_LOOKED_AT), now),
                log_texts.ANSWER_SAFE if may(LOG) else log_texts.MAY_NOT,
            ),
            html.Div(id=FORM, className="log-form", **_version()),
        ),
        className="no-date",
    )


def _version() -> dict[str, Any]:
    """Of which files the page is, so that its script takes no memory of others' for its own."""
    return {"data-version": version()}


def sentence(batches: list[BatchEntry], now: datetime) -> str:
    """How much was entered lately, and the last of it."""
    made = [
        batch
        for batch in batches
        if batch.action in ("log", "edit", "remove") and batch.undone_by is None
    ]
    lately = [batch for batch in made if batch.at is not None and now - batch.at <= LATELY]
    if not lately:
        return log_texts.ANSWER_NONE
    return log_texts.ANSWER.format(
        count=count(len(lately), log_texts.ENTRY_ONE, log_texts.ENTRY_MANY),
        note=shown(lately[0].note, 90),
    )


def connect(app: Dash, source: Source) -> None:
    """Hang the addresses that entries are sent to on the app."""
    entries.connect(app, source)
