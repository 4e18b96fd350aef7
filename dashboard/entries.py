"""Where a page sends entries to, and what it has to know to make them, also without a connection.

Everything here is JSON for the script on the page of the log. What is sent twice arrives once.
"""

from __future__ import annotations

import base64
import binascii
import dataclasses
from typing import Any

from dash import Dash
from flask import Blueprint, Response, abort, jsonify, request

from dashboard.data import (
    ConflictError,
    HarvestError,
    InputError,
    Subject,
    attach,
    attachment_bytes,
    dismiss_doubts,
    entry_lists,
    event_names,
    growth_stages,
    history,
    kinds_of_fruit,
    log_columns,
    log_records,
    media_type_of,
    record_fields,
    signed,
    told_at_once,
    undo_batch,
)
from dashboard.measures import MEASURES, retold, unit
from dashboard.offline import version
from dashboard.security import (
    CHANGE,
    LOG,
    LOOK,
    current_name,
    from_own_page,
    require,
    role_held,
)
from dashboard.source import Source
from dashboard.texts import first_use as first_texts
from dashboard.texts import log as log_texts
from dashboard.texts import records as record_texts
from dashboard.typed_dates import typed_day
from dashboard.views.entries import Entry, Reply, column_at, entry_of, said
from dashboard.views.plain_input import PLACE, site_cells, tree_cells
from dashboard.views.records import DAYS, kept_cell, shown_cell
from dashboard.words import field_ways, shown

# What a browser shows itself; all else is offered as a file.
SHOWN = ("image/jpeg", "image/png", "image/gif", "image/webp", "image/avif")
MOST_PRODUCTS = 200
WHOLE, TEXT, CHOICE, YES_NO, NUMBER = "whole", "text", "choice", "yes", "number"
SORTS = {
    "bbch": WHOLE, "percent_open": WHOLE, "weight_kg": "weight", "graded_out_kg": "weight",
    "firmness_kg": "weight", "girth_cm": "girth", "fruit_count": WHOLE, "pass": WHOLE,
    "last": YES_NO, "brix": NUMBER, "starch": NUMBER, "fruit_removed": WHOLE,
    "fruit_left": WHOLE, "withholding_days": WHOLE, "severity": WHOLE, "event": CHOICE,
    "product": "product", "cultivar": "cultivar",
}  # fmt: skip


def connect(app: Dash, source: Source) -> None:
    """Hang the addresses of the entries on the app."""
    routes = Blueprint("entries", __name__)

    @routes.get("/entries/choices")
    def tell_choices() -> Response:
        answer = jsonify(choices(source))
        answer.headers["Cache-Control"] = "no-store"
        return answer

    @routes.post("/entries")
    def take_entry() -> Response:
        entry = entry_of(_json(LOG))
        if entry is None:
            return jsonify(Reply("refused", reason=log_texts.REFUSED_ID))
        if entry.replace or entry.kind not in log_texts.FIRST_FIELDS:
            require(CHANGE)
        if entry.by and role_held() and entry.by != current_name():
            return jsonify(Reply("another person", reason=shown(entry.by)))
        return jsonify(dataclasses.asdict(take(source, entry)))

    @routes.post("/entries/undo")
    def take_back() -> Response:
        body = _json(LOG)
        number = body.get("batch") if isinstance(body, dict) else None
        if not isinstance(number, int):
            abort(400)
        if not own_entry(source, number):
            require(CHANGE)
        return jsonify(dataclasses.asdict(undone(source, number)))

    @routes.post("/entries/stand")
    def let_stand() -> Response:
        body = _json(CHANGE)
        code = body.get("code") if isinstance(body, dict) else None
        if not isinstance(code, str):
            abort(400)
        return jsonify(dataclasses.asdict(stands(source, code)))

    _show_photos(routes, source)
    app.server.register_blueprint(routes, url_prefix=app.config.routes_pathname_prefix.rstrip("/"))


def _show_photos(routes: Blueprint, source: Source) -> None:
    """Hang the address of what is attached to records on the rest."""

    @routes.get("/entries/photo/<name>")
    def show_photo(name: str) -> Response:
        require(LOOK)
        try:
            data = attachment_bytes(source.orchard, name)
            media_type = media_type_of(data, name)
        except HarvestError:
            abort(404)
        answer = Response(data, mimetype=media_type)
        answer.headers["Cache-Control"] = "private, max-age=31536000, immutable"
        if media_type not in SHOWN:
            answer.headers["Content-Disposition"] = "attachment"
        return answer


def take(source: Source, entry: Entry) -> Reply:
    """Log an entry, unless it must be refused or asks for a second look."""
    who = entry.who
    about = Subject(who.get("tree", ""), who.get("all_of", ""), who.get("site", ""))
    cells = _cells(source, entry)
    if PLACE in cells:
        return Reply("refused", field=PLACE, reason=first_texts.PLACE_REFUSED)
    columns = [field.header for field in record_fields(entry.kind)]
    today = source.latest_date()

    try:
        report = log_records(
            source.orchard, entry.kind, about, cells, today=today, signed=signed(),
            replace=entry.replace, ask=not entry.sure, entry=entry.id,
        )  # fmt: skip
    except ConflictError as error:
        todo = log_texts.ON_RECORD_TODO
        if entry.kind == "picks":
            todo = log_texts.ON_RECORD_PICK
        return Reply("on record", field="pass" if entry.kind == "picks" else "who",
                     reason=f"{_capital(error.given)}. {todo}")  # fmt: skip
    except InputError as error:
        field = column_at(error.where, columns)
        if field in ("latitude", "longitude") and PLACE in entry.cells:
            field = PLACE
        return Reply("refused", field=field, reason=reason_of(error))
    except HarvestError as error:
        return Reply("failed", reason=str(error))
    words = said(entry.kind, report.rows, today)
    if report.asks:
        odd = tuple(
            f"{shown_cell(note.column, note.value)}: {retold(note.reason)}"
            for note in report.warnings
        )
        return Reply("asks", words=words, notes=odd)
    notes = tuple(map(retold, told_at_once(source.orchard, entry.kind, report.rows, today)))
    if report.rows and report.batch is None:
        notes = (log_texts.SAID_SAME, *notes)
    try:
        attached = _attach(source, entry, report.ids)
    except InputError as error:
        attached = (log_texts.PHOTO_REFUSED.format(reason=reason_of(error)),)
    except HarvestError as error:  # the entry is there; it is sent again for the photo's sake
        return Reply("failed", reason=str(error))
    return Reply("kept", words=words, batch=report.batch, notes=notes + attached)


def _attach(source: Source, entry: Entry, records: tuple[int, ...]) -> tuple[str, ...]:
    """Hang an entry's photo on its records, once on each however often it is sent."""
    if entry.photo is None:
        return ()
    try:
        data = base64.b64decode(entry.photo.data, validate=True)
    except binascii.Error:
        return (log_texts.PHOTO_BROKEN,)
    for record in records:
        attach(
            source.orchard, entry.kind, record, entry.photo.name or log_texts.PHOTO_NAME, data,
            signed=signed(), today=source.latest_date(),
        )  # fmt: skip
    return (log_texts.PHOTO_KEPT,)


def own_entry(source: Source, number: int) -> bool:
    """Whether a change is an entry that whoever asks has made."""
    made = next((each for each in history(source.orchard) if each.number == number), None)
    return made is not None and made.action == "log" and made.who == signed().who


def _cells(source: Source, entry: Entry) -> dict[str, str]:
    """What was typed, with dates, a place off a map and a year alone read as what they mean."""
    cells = {n: typed_day(text) if n in DAYS else text for n, text in entry.cells.items()}
    if entry.kind == "sites":
        return {name: kept_cell(name, text) for name, text in site_cells(cells).items()}
    if entry.kind == "trees":
        sites = entry_lists(source.orchard).sites
        own = sites["site"].str.casefold() == cells.get("site", "").casefold()
        return tree_cells(cells, south=bool((sites.loc[own, "latitude"] < 0).any()))
    return cells


def undone(source: Source, number: int) -> Reply:
    """Take a change back."""
    try:
        done = undo_batch(source.orchard, number, signed())
    except HarvestError as error:
        return Reply("refused", reason=reason_of(error))
    return Reply("kept", words=shown(done.batch.note, 120), batch=done.by.number)


def stands(source: Source, code: str) -> Reply:
    """Let a record stand that looks wrong."""
    try:
        dismiss_doubts(source.orchard, [code], as_of=source.latest_date(), signed=signed())
    except HarvestError as error:
        return Reply("refused", reason=reason_of(error))
    return Reply("kept", words=record_texts.STANDS)


def reason_of(error: HarvestError) -> str:
    """An error in the command line's own words, without the place, which the page shows itself."""
    given = f" ({error.given})" if error.given else ""
    parts = (f"{_capital(error.required)}{given}.", error.todo)
    return retold(" ".join(part for part in parts if part))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def choices(source: Source) -> dict[str, Any]:
    """Everything a page needs to make entries without asking again."""
    known = entry_lists(source.orchard)
    trees = known.trees
    stages, taken = growth_stages(), units()
    either = {sort: log_texts.UNITS_OR.format(first=first, second=second)
              for sort, (first, second) in taken.items()}  # fmt: skip
    return {
        "version": version(),
        "person": current_name() if role_held() else "",
        "today": source.home_date().isoformat(),
        "latest": source.latest_date().isoformat(),
        "fixed": known.fixed_day is not None,
        "trees": [
            {"name": tree, "shown": shown(tree), "site": shown(site), "species": species,
             "cultivar": cultivar, "cultivar_shown": shown(cultivar), "row": row,
             "row_shown": row and shown(_capital(row))}
            for tree, site, species, cultivar, row in zip(
                *(trees[n] for n in ("tree", "site", "species", "cultivar", "row_name")),
                strict=True,
            )
        ],
        "sites": [{"name": site, "shown": shown(site)} for site in known.sites["site"]],
        "products": known.products[:MOST_PRODUCTS],
        "cultivars": kinds_of_fruit(trees),
        "species_groups": stages.groups,
        "stages": stages.words,
        "units": taken,
        "dates": field_ways(),
        "actions": [
            {"key": key, "kind": kind, "cells": cells, "name": name,
             "told": told.format(**either), "means": means}
            for key, kind, cells, (name, told), means in log_texts.ACTIONS
        ],
        "kinds": {kind: _kind(kind, first) for kind, first in log_texts.FIRST_FIELDS.items()},
        "texts": log_texts.SCRIPT | {"law": log_texts.SPRAY_LAW},
    }  # fmt: skip


def units() -> dict[str, list[str]]:
    """The units that may be tapped for each sort of measure, the one chosen first."""
    return {
        sort: sorted((MEASURES[name].metric, MEASURES[name].us), key=unit(name).__ne__)
        for sort, name in (("weight", "kg"), ("girth", "cm"))
    }


def _kind(kind: str, first: tuple[str, ...]) -> dict[str, Any]:
    columns = [column.name for column in log_columns(kind)]
    needed = {field.header for field in record_fields(kind) if field.needed}
    ordered = [*first, *(name for name in columns if name not in first)]
    return {
        "all_of": kind in log_texts.ALL_OF_KINDS,
        "site": kind in log_texts.SITE_KINDS,
        "fields": [
            {
                "name": name,
                "label": log_texts.FIELD_NAMES[name],
                "sort": SORTS.get(name, TEXT),
                "first": name in first,
                "needed": name in needed,
                "choices": list(event_names()) if name == "event" else [],
            }
            for name in ordered
        ],
    }


def _json(role: str) -> Any:
    """The JSON of a request by somebody in the role; no other site's page can send it."""
    require(role)
    if request.mimetype != "application/json" or not from_own_page():
        abort(403)
    return request.get_json(silent=True)
