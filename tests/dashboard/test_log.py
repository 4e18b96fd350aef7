"""The page of the log and the addresses that entries are sent to, without a browser."""

from __future__ import annotations

import base64
import dataclasses
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask import g

from dashboard.address import View
from dashboard.data import BatchEntry, attachments
from dashboard.entries import choices, take, undone, units
from dashboard.pages import log as log_page
from dashboard.source import Source
from dashboard.texts import log as log_texts
from dashboard.views.entries import Entry, column_at, entry_of, said
from dashboard.words import US, WAYS, Ways
from harvest import service
from harvest.care.texts import WHAT_TO_DO
from harvest.records import KINDS, fields
from harvest.store.history_reading import read_batches
from harvest.store.orchard import Orchard, open_orchard
from harvest.store.reading import read_kind
from tests.dashboard.client import app_of
from tests.dashboard.made_up import AS_OF
from tests.dashboard.orchards import take_in

TREES = [
    ("tree", "site", "species", "cultivar", "planted"),
    ("Gate 1", "Hill", "apple", "Gala", "2015-03-14"),
    ("Gate 2", "Hill", "apple", "Gala", "2015-03-14"),
    ("Gate 20", "Hill", "apple", "Discovery", "2015-03-14"),
    ("Wall, the old pear", "Hill", "pear", "Williams", "1990-03-14"),
]
SITES = [("site", "latitude", "longitude"), ("Hill", 47, 16)]


@pytest.fixture
def source(sqlite_address: str, tmp_path: Path) -> Iterator[Source]:
    orchard = open_orchard(sqlite_address)
    take_in(orchard, tmp_path, "sites", SITES)
    take_in(orchard, tmp_path, "trees", TREES)
    yield Source(orchard, lambda: AS_OF)
    orchard.engine.dispose()


def entry(kind: str, who: str = "gate 1", **cells: str) -> Entry:
    body = {
        "id": f"{kind}-{who}-{cells}"[:64],
        "kind": kind,
        "who": {"tree": who},
        "cells": {"date": AS_OF.isoformat(), **cells},
    }
    made = entry_of(body)
    assert made is not None
    return made


def stored(source: Source, kind: str) -> list[dict[str, Any]]:
    with source.orchard.reading() as connection:
        return read_kind(connection, kind).to_dict("records")


@pytest.mark.parametrize(
    ("kind", "cells", "words", "column", "value"),
    [
        ("picks", {"weight_kg": "27lb"}, "picked 12.25\u00a0kg", "weight_kg", 12.24699399),
        ("stages", {"bbch": "65"}, "Full bloom (BBCH 65)", "bbch", 65),
        ("stages", {"bbch": "57"}, "stage BBCH 57", "bbch", 57),
        ("thinnings", {"action": "strip"}, "all fruit stripped", "action", "strip"),
        ("girths", {"girth_cm": "5in"}, "girth 12.7\u00a0cm", "girth_cm", 12.7),
        ("sprays", {"product": "Sulphur", "withholding_days": "14"},
         "sprayed with Sulphur, withholding period 14 days by the label as typed",
         "withholding_days", 14),
        ("events", {"event": "no crop"}, "no crop", "event", "no crop"),
        ("grafts", {"cultivar": "elstar"}, "grafted over to elstar", "cultivar", "Elstar"),
    ],
)  # fmt: skip
def test_an_entry_is_kept_told_and_taken_back(
    source: Source, kind: str, cells: dict[str, str], words: str, column: str, value: object
) -> None:
    sent = dataclasses.replace(entry(kind, **cells, date="2026-05-04"), sure=True)
    reply = take(source, sent)
    assert reply.status == "kept", reply
    assert reply.words == f"Gate 1: {words}, 4 May"
    (record,) = stored(source, kind)
    assert (record["tree"], record[column]) == ("Gate 1", value)
    assert reply.batch is not None
    assert undone(source, reply.batch).status == "kept"
    assert stored(source, kind) == []
    assert undone(source, reply.batch).status == "refused"


def test_fruit_picked_too_soon_is_told_with_the_entry(source: Source) -> None:
    spray = entry("sprays", product="Sulphur", withholding_days="14", date="2026-05-04")
    assert take(source, spray).notes == ()
    pick = entry("picks", weight_kg="1kg", date="2026-05-10")
    reply = take(source, dataclasses.replace(pick, sure=True, id="the-pick"))
    assert reply.status == "kept"
    assert len(reply.notes) == 1
    assert "inside the withholding period" in reply.notes[0]
    assert WHAT_TO_DO in reply.notes[0]


def test_sent_twice_it_is_kept_once(source: Source) -> None:
    sent = entry("picks", weight_kg="12.4kg")
    first, again = take(source, sent), take(source, sent)
    assert (first.status, again.status) == ("kept", "kept")
    assert again.batch == first.batch
    assert again.words == log_texts.SAID_AGAIN
    assert len(stored(source, "picks")) == 1


def test_all_trees_of_a_cultivar_at_once(source: Source) -> None:
    sent = dataclasses.replace(
        entry("stages", bbch="65", date="2026-05-04"), who={"all_of": "Gala (apple)"}
    )
    assert take(source, sent).words.startswith("Gate 1 and 1 more: Full bloom")
    assert [row["tree"] for row in stored(source, "stages")] == ["Gate 1", "Gate 2"]


def test_a_site_can_be_sprayed(source: Source) -> None:
    sent = dataclasses.replace(entry("sprays", product="Oil"), who={"site": "Hill"})
    assert take(source, sent).status == "kept"
    assert stored(source, "sprays")[0]["site"] == "Hill"


@pytest.mark.parametrize(
    ("kind", "who", "cells", "field", "reason"),
    [
        ("picks", "gate 1", {"weight_kg": "12.4"}, "weight_kg", "A weight with its unit is needed"),
        ("picks", "gate 1", {"weight_kg": "1,234kg"}, "weight_kg", "parts decimals or thousands"),
        ("picks", "gate", {"weight_kg": "1kg"}, "who", "It fits: Gate 1, Gate 2, Gate 20."),
        ("picks", "gote 1", {"weight_kg": "1kg"}, "who", "Did you mean 'Gate 1'"),
        ("picks", "wall", {"weight_kg": "9kg", "date": "2027-01-01"}, "date", "in the future"),
        ("picks", "wall", {"weight_kg": "1kg", "graded_out_kg": "2kg"}, "graded_out_kg",
         "more was graded out"),
        ("picks", "wall", {"weight_kg": "1kg", "brix": "lots"}, "brix", "not a number"),
        ("stages", "wall", {"bbch": "165"}, "bbch", "must lie between 0 and 99"),
        ("grafts", "wall", {}, "cultivar", "a value is needed here"),
        ("grafts", "wall", {"cultivar": "Conference", "date": "1990-03-14"}, "date",
         "a tree is grafted over after it was planted"),
        ("grafts", "wall", {"cultivar": "Gala", "species": "aple"}, "species",
         "Did you mean 'apple'"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_beside_its_field(
    source: Source, kind: str, who: str, cells: dict[str, str], field: str, reason: str
) -> None:
    reply = take(source, entry(kind, who, **cells))
    assert (reply.status, reply.field) == ("refused", field)
    assert reason.casefold() in reply.reason.casefold()
    assert stored(source, kind) == []


def test_what_looks_odd_asks_first(source: Source) -> None:
    assert take(source, entry("girths", girth_cm="30cm", date="2025-03-01")).status == "kept"
    odd = entry("girths", girth_cm="20cm")
    reply = take(source, odd)
    assert reply.status == "asks"
    assert "a girth that shrank" in " ".join(reply.notes) or "30 cm" in " ".join(reply.notes)
    assert len(stored(source, "girths")) == 1
    assert take(source, dataclasses.replace(odd, sure=True)).status == "kept"
    assert len(stored(source, "girths")) == 2


def test_another_value_on_record_is_not_overwritten_unasked(source: Source) -> None:
    assert take(source, entry("picks", weight_kg="12kg")).status == "kept"
    other = entry("picks", weight_kg="13kg")
    reply = take(source, other)
    assert (reply.status, reply.field) == ("on record", "pass")
    assert reply.reason.startswith("Weight_kg 12")
    assert "--" not in reply.reason
    second = take(source, entry("picks", weight_kg="13kg", **{"pass": "2"}))
    assert second.status == "kept"
    assert take(source, dataclasses.replace(other, replace=True, sure=True)).status == "kept"
    assert sorted(row["weight_kg"] for row in stored(source, "picks")) == [13, 13]


def test_the_same_again_is_said_to_be_there(source: Source) -> None:
    first = entry("stages", bbch="65", date="2026-05-04")
    take(source, first)
    again = dataclasses.replace(first, id="another")
    reply = take(source, again)
    assert (reply.status, reply.batch, reply.notes) == ("kept", None, (log_texts.SAID_SAME,))


@pytest.mark.parametrize(
    "body",
    [
        None, [], {}, {"id": "", "kind": "picks", "who": {}, "cells": {}},
        {"id": "a", "kind": "weather", "who": {}, "cells": {}},
        {"id": "a", "kind": "picks", "who": {"tree": 1}, "cells": {}},
        {"id": "a", "kind": "picks", "who": {}, "cells": {"note": "x" * 20_000}},
        {"id": "a" * 65, "kind": "picks", "who": {}, "cells": {}},
    ],
)  # fmt: skip
def test_what_is_no_entry_is_not_read_as_one(body: object) -> None:
    assert entry_of(body) is None


def test_a_tree_with_a_comma_in_its_name_points_at_the_right_field() -> None:
    assert column_at("Wall, the old pear, bbch", ["bbch", "date"]) == "bbch"
    assert column_at("Wall, the old pear", ["bbch", "date"]) == "who"
    assert column_at("", ["bbch"]) == "who"


def test_hostile_names_are_told_safely() -> None:
    row = {"tree": "\u202e<b>" + "x" * 500, "date": "2026-08-12", "bbch": "65"}
    words = said("stages", [row], AS_OF)
    assert "\u202e" not in words
    assert "x" * 60 not in words


# Over HTTP


def post(orchard: Orchard, path: str, body: Any, **headers: str) -> Any:
    client = app_of(orchard).server.test_client()
    return client.post(path, json=body, headers=headers)


def body_of(sent: Entry) -> dict[str, Any]:
    return {"id": sent.id, "kind": sent.kind, "who": sent.who, "cells": sent.cells}


def test_a_page_of_ours_may_send_and_take_back(source: Source) -> None:
    sent = body_of(entry("picks", weight_kg="12.4kg"))
    answer = post(source.orchard, "/entries", sent, Origin="http://localhost")
    assert answer.status_code == 200
    assert answer.json["status"] == "kept"
    back = post(source.orchard, "/entries/undo", {"batch": answer.json["batch"]})
    assert back.json["status"] == "kept"
    assert stored(source, "picks") == []


@pytest.mark.parametrize(
    ("headers", "as_json"),
    [
        ({"Origin": "http://elsewhere.example"}, True),
        ({"Origin": "null"}, True),
        ({"Sec-Fetch-Site": "cross-site"}, True),
        ({"Sec-Fetch-Site": "same-site"}, True),
        ({}, False),
    ],
)
def test_other_sites_may_not(source: Source, headers: dict[str, str], as_json: bool) -> None:
    client = app_of(source.orchard).server.test_client()
    sent = body_of(entry("picks", weight_kg="12.4kg"))
    if as_json:
        answer = client.post("/entries", json=sent, headers=headers)
    else:
        answer = client.post("/entries", data=str(sent), content_type="text/plain")
    assert answer.status_code == 403
    assert stored(source, "picks") == []
    assert len(read_batches(source.orchard)) == 2


def test_who_may_only_look_is_told_so_before_typing(source: Source) -> None:
    server = app_of(source.orchard).server
    for role, told in (("look", log_texts.MAY_NOT), ("log", log_texts.ANSWER_SAFE)):
        with server.test_request_context():
            g.person_role = role
            assert told in str(log_page.render(source, View()))


def test_under_a_prefix_the_addresses_keep_it(source: Source) -> None:
    client = app_of(source.orchard, url_prefix="/trees/").server.test_client()
    assert client.get("/trees/entries/choices").status_code == 200


def test_no_days_on_the_label_are_told_as_unknown_never_as_free(source: Source) -> None:
    reply = take(source, entry("sprays", product="Sulphur"))
    assert "withholding period unknown: read the label" in reply.words


def in_role(orchard: Orchard, role: str) -> Any:
    """A browser's part, signed in under a role."""
    app = app_of(orchard)

    def sign_in() -> None:
        g.person_role, g.person_name = role, "Ada"

    app.server.before_request(sign_in)
    return app.server.test_client()


def test_who_may_only_look_logs_nothing(source: Source) -> None:
    client = in_role(source.orchard, "look")
    sent = body_of(entry("picks", weight_kg="12.4kg"))
    assert client.post("/entries", json=sent).status_code == 403
    assert stored(source, "picks") == []


def test_an_entry_that_waited_is_kept_under_no_other_persons_name(source: Source) -> None:
    client = in_role(source.orchard, "log")
    assert client.get("/entries/choices").json["person"] == "Ada"
    sent = {**body_of(entry("picks", weight_kg="12.4kg")), "by": "Bo"}
    answer = client.post("/entries", json=sent).json
    assert (answer["status"], answer["reason"]) == ("another person", "Bo")
    assert stored(source, "picks") == []
    assert client.post("/entries", json={**sent, "by": "Ada"}).json["status"] == "kept"


def test_who_may_log_takes_back_their_own_but_corrects_nothing(source: Source) -> None:
    client = in_role(source.orchard, "log")
    sent = body_of(entry("picks", weight_kg="12.4kg"))
    made = client.post("/entries", json=sent)
    assert made.json["status"] == "kept"
    other = {**sent, "id": "other", "cells": {**sent["cells"], "weight_kg": "1kg"}}
    assert client.post("/entries", json={**other, "replace": True}).status_code == 403
    site = {"id": "s", "kind": "sites", "who": {}, "cells": {"site": "New", "place": "1.5, 2.5"}}
    assert client.post("/entries", json=site).status_code == 403
    assert client.post("/entries/undo", json={"batch": 1}).status_code == 403
    assert client.post("/entries/stand", json={"code": "1"}).status_code == 403
    assert read_batches(source.orchard)[0].who == "Ada"
    back = client.post("/entries/undo", json={"batch": made.json["batch"]})
    assert back.json["status"] == "kept"


# Photos

# The smallest picture there is: one pixel (PNG specification, third edition, W3C 2025).
PIXEL = (
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJg"
    "gg=="
)


def test_a_photo_hangs_on_the_entry_once_and_is_shown(source: Source) -> None:
    body = body_of(entry("picks", weight_kg="12.4kg")) | {"photo": {"name": "a.png", "data": PIXEL}}
    client = app_of(source.orchard).server.test_client()
    for _ in range(2):  # sent twice
        reply = client.post("/entries", json=body).json
        assert (reply["status"], log_texts.PHOTO_KEPT in reply["notes"]) == ("kept", True)
    (hung,) = attachments(source.orchard, "Gate 1")
    assert (hung.kind, hung.filename, hung.media_type) == ("picks", "a.png", "image/png")
    shown = client.get(f"/entries/photo/{hung.sha256}")
    assert (shown.mimetype, shown.data) == ("image/png", base64.b64decode(PIXEL))
    assert client.get("/entries/photo/" + "0" * 64).status_code == 404
    # Taking the entry back takes the photo off; the history keeps both.
    assert client.post("/entries/undo", json={"batch": reply["batch"]}).json["status"] == "kept"
    assert attachments(source.orchard) == []


@pytest.mark.parametrize("data", ["!!!", base64.b64encode(b"MZ\0\0 program").decode()])
def test_what_is_no_picture_is_left_out_and_said(source: Source, data: str) -> None:
    body = body_of(entry("picks", weight_kg="12.4kg")) | {"photo": {"name": "a", "data": data}}
    made = entry_of(body)
    assert made is not None
    reply = take(source, made)
    assert reply.status == "kept"
    assert "photo" in reply.notes[-1].casefold()
    assert len(stored(source, "picks")) == 1
    assert attachments(source.orchard) == []


def test_a_text_is_offered_as_a_file_never_shown_as_a_page(source: Source) -> None:
    data = base64.b64encode(b"<script>alert(1)</script>").decode()
    body = body_of(entry("picks", weight_kg="12.4kg")) | {"photo": {"name": "a.html", "data": data}}
    client = app_of(source.orchard).server.test_client()
    client.post("/entries", json=body)
    (hung,) = attachments(source.orchard)
    answer = client.get(f"/entries/photo/{hung.sha256}")
    assert answer.mimetype == "text/plain"
    assert answer.headers["Content-Disposition"] == "attachment"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


# What the form is made from


def test_the_form_knows_every_column_and_standing_tree(source: Source) -> None:
    told = choices(source)
    assert [tree["name"] for tree in told["trees"]] == [row[0] for row in TREES[1:]]
    for kind, about in told["kinds"].items():
        names = {field["name"] for field in about["fields"]}
        expected = {f.header for f in fields(kind)} - {"tree", "site", "date", "time_of_day"}
        assert names == expected
    assert {action["kind"] for action in told["actions"]} == set(told["kinds"])
    assert told["stages"]["pome"][65].startswith("Full bloom")
    assert told["today"] == AS_OF.isoformat()
    assert not told["fixed"]


def test_the_form_knows_a_tree_grafted_over_by_its_new_cultivar(source: Source) -> None:
    offered = choices(source)["cultivars"]["apple"]
    assert {"Gala", "Elstar"} <= set(offered)
    assert "Own find" not in offered
    take(source, entry("grafts", cultivar="Own find", date="2026-03-20"))
    told = choices(source)
    assert told["trees"][0]["cultivar"] == "Own find"
    assert "Own find" in told["cultivars"]["apple"]
    many = dataclasses.replace(entry("stages", bbch="87"), who={"all_of": "Own find (apple)"})
    assert take(source, dataclasses.replace(many, sure=True)).words.startswith("Gate 1: Ripe")


def test_every_column_of_every_record_has_a_name_on_the_pages() -> None:
    headers = {f.header for kind in KINDS if kind != "weather" for f in fields(kind)}
    assert headers - {"time_of_day"} <= set(log_texts.FIELD_NAMES)


def test_the_demo_logs_on_its_own_date(demo: Orchard) -> None:
    told = choices(Source(demo, lambda: date(2026, 8, 20)))
    assert (told["today"], told["latest"], told["fixed"]) == ("2026-08-12", "2026-08-20", True)


def test_the_answer_tells_how_much_was_entered_lately(source: Source) -> None:
    now = datetime(2026, 8, 12, 12)

    def batch(number: int, action: str, days: int, undone_by: int | None = None) -> BatchEntry:
        at = now - timedelta(days=days)
        return BatchEntry(number, action, "Ada", at, f"picks: {number}", (), None, undone_by)

    made = [batch(9, "undo", 0), batch(8, "log", 0, 9), batch(7, "log", 1), batch(6, "edit", 3),
            batch(5, "log", 9)]  # fmt: skip
    answer = log_page.sentence(made, now)
    assert answer.startswith("2 changes were made here in the last seven days")
    assert "the latest: picks: 7." in answer
    assert log_page.sentence([], now) == log_texts.ANSWER_NONE


def test_an_empty_orchard_has_the_page_too(sqlite_address: str) -> None:
    told = choices(Source(service.open_orchard(sqlite_address), lambda: AS_OF))
    assert told["trees"] == []


def test_the_unit_that_is_tapped_first_is_the_one_chosen() -> None:
    assert units() == {"weight": ["kg", "lb"], "girth": ["cm", "in"]}
    token = WAYS.set(Ways(US))
    american, words = units(), said("picks", [{"tree": "T", "weight_kg": "4.5359237"}], AS_OF)
    WAYS.reset(token)
    assert american == {"weight": ["lb", "kg"], "girth": ["in", "cm"]}
    assert words.startswith("T: picked 10\u00a0lb")
