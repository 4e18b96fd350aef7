from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from argon2 import PasswordHasher, extract_parameters
from argon2.profiles import RFC_9106_LOW_MEMORY
from flask.testing import FlaskClient
from sqlalchemy import text

from dashboard import signing_in
from dashboard.app import create_app
from dashboard.source import Source
from dashboard.texts import people as texts
from harvest.errors import InputError, UnknownNameError
from harvest.service import open_orchard
from harvest.service_people import (
    TRIES_PER_ADDRESS,
    TRIES_PER_NAME,
    WAIT,
    add_person,
    change_password,
    change_role,
    read_people,
    remove_person,
    sign_in,
    who_holds,
)
from harvest.service_records import history
from harvest.store.orchard import Orchard
from tests.dashboard.made_up import AS_OF
from tests.orchards import plant

NOW = datetime(2026, 8, 12, 9, tzinfo=UTC)
PASSWORD = "seven green pears"


class Clock:
    """A clock that a test sets."""

    def __init__(self) -> None:
        self.now = NOW

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def orchard(address: str, tmp_path: Path) -> Iterator[Orchard]:
    """An orchard with people, on either database."""
    opened = open_orchard(address)
    plant(opened, tmp_path)
    for name, role in (("Ines", "change"), ("Bo", "log"), ("Cy", "look")):
        add_person(opened, name, role, PASSWORD, NOW)
    yield opened
    opened.engine.dispose()


def browser_of(orchard: Orchard, clock: Clock) -> FlaskClient:
    """A browser at a process of its own."""
    app = create_app(orchard, today=lambda: AS_OF, hosts=None)
    signing_in.connect(app, Source(orchard, lambda: AS_OF), now=clock)
    return app.server.test_client()


def enter(browser: FlaskClient, name: str, password: str = PASSWORD, on: str = "") -> int:
    answer = browser.post("/sign-in", data={"name": name, "password": password, "on": on})
    return answer.status_code


def test_nobody_sees_anything_before_signing_in(orchard: Orchard) -> None:
    browser = browser_of(orchard, Clock())
    answer = browser.get("/picking?rows=trees")
    assert answer.status_code == 303
    assert answer.headers["Location"] == "/sign-in?on=%2Fpicking%3Frows%3Dtrees"
    for path in ("/_dash-layout", "/_dash-dependencies", "/entries/choices"):
        assert browser.get(path).status_code == 401, path
    for path in ("/_dash-update-component", "/entries", "/entries/undo"):
        assert browser.post(path, json={}).status_code == 401, path
    page = browser.get("/sign-in").get_data(as_text=True)
    assert texts.PASSWORD in page
    # It works without a script; the one there is forgets what the log remembered.
    assert page.count("<script") == page.count('<script src="/assets/signed_out.js">') == 1
    with browser.get("/assets/sign_in.css") as style:
        assert style.status_code == 200


def test_who_signs_in_is_let_on_to_the_page_asked_for(orchard: Orchard) -> None:
    browser = browser_of(orchard, Clock())
    form = {"name": " INES ", "password": PASSWORD, "on": "/picking?rows=trees"}
    answer = browser.post("/sign-in", data=form)
    assert answer.headers["Location"] == "/picking?rows=trees"
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert "Secure" not in cookie
    assert browser.get("/picking").status_code == 200


def test_over_https_the_cookie_travels_encrypted_only(orchard: Orchard) -> None:
    browser = browser_of(orchard, Clock())
    form = {"name": "Ines", "password": PASSWORD}
    answer = browser.post("/sign-in", data=form, base_url="https://localhost")
    assert "Secure" in answer.headers["Set-Cookie"]


@pytest.mark.parametrize(
    "on", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "x", ""]
)
def test_signing_in_never_leads_elsewhere(orchard: Orchard, on: str) -> None:
    form = {"name": "Ines", "password": PASSWORD, "on": on}
    answer = browser_of(orchard, Clock()).post("/sign-in", data=form)
    assert answer.headers["Location"] == "/"


def test_two_processes_know_the_same_people(orchard: Orchard) -> None:
    clock = Clock()
    first, second = browser_of(orchard, clock), browser_of(orchard, clock)
    assert enter(first, "Ines") == 303
    cookie = first.get_cookie(signing_in.COOKIE)
    assert cookie is not None
    second.set_cookie(signing_in.COOKIE, cookie.value)
    assert second.get("/").status_code == 200
    assert second.post("/sign-out").status_code == 303
    assert first.get("/").status_code == 303


def test_what_is_done_is_kept_under_the_name_signed_in(orchard: Orchard) -> None:
    browser = browser_of(orchard, Clock())
    enter(browser, "Bo")
    tree = Source(orchard, lambda: AS_OF).overview(AS_OF).trees["tree"].iloc[0]
    cells = {"girth_cm": "31 cm", "date": AS_OF.isoformat()}
    sent = {"id": "5c0c1a55", "kind": "girths", "sure": True, "who": {"tree": tree}, "cells": cells}
    answer = browser.post("/entries", json=sent)
    assert answer.status_code == 200, answer.get_data(as_text=True)
    assert answer.get_json()["status"] == "kept", answer.get_json()
    assert history(orchard, 1)[0].who == "Bo"


def test_who_may_only_look_changes_nothing(orchard: Orchard) -> None:
    browser = browser_of(orchard, Clock())
    enter(browser, "Cy")
    assert browser.get("/").status_code == 200
    assert browser.post("/entries", json={}).status_code == 403
    assert browser.post("/entries/undo", json={"batch": 1}).status_code == 403


def test_too_many_wrong_passwords_have_to_wait(orchard: Orchard) -> None:
    clock = Clock()
    browser = browser_of(orchard, clock)
    for _ in range(TRIES_PER_NAME):
        assert enter(browser, "Ines", "wrong") == 401
    assert enter(browser, "ines ") == 429
    assert enter(browser, "Bo") == 303
    clock.now += WAIT + timedelta(seconds=1)
    assert enter(browser, "Ines") == 303


def test_an_address_that_tries_many_names_has_to_wait(orchard: Orchard) -> None:
    browser = browser_of(orchard, Clock())
    for number in range(TRIES_PER_ADDRESS):
        assert enter(browser, f"somebody {number}", "wrong") == 401
    assert enter(browser, "Bo") == 429


def test_a_sign_in_ends_when_idle_or_with_the_password_or_the_account(orchard: Orchard) -> None:
    clock = Clock()
    token = sign_in(orchard, "Ines", PASSWORD, "here", NOW).token
    assert token is not None
    assert who_holds(orchard, token, NOW) is not None
    assert who_holds(orchard, token, NOW + timedelta(days=31)) is None
    change_role(orchard, "Ines", "look")
    held = who_holds(orchard, token, NOW)
    assert held is not None
    assert held.role == "look"
    change_password(orchard, "ines", PASSWORD + "!")
    assert who_holds(orchard, token, NOW) is None
    again = sign_in(orchard, "Ines", PASSWORD + "!", "here", NOW).token
    assert again is not None
    remove_person(orchard, "Ines")
    assert who_holds(orchard, again, clock.now) is None
    assert [person.name for person in read_people(orchard)] == ["Bo", "Cy"]


def test_a_cookie_left_alone_opens_nothing(
    orchard: Orchard, monkeypatch: pytest.MonkeyPatch
) -> None:
    browser = browser_of(orchard, Clock())
    enter(browser, "Ines")
    assert browser.get("/").status_code == 200
    sealed_at = datetime.now(UTC).timestamp()
    later = sealed_at + signing_in.IDLE.total_seconds() + 5
    monkeypatch.setattr("itsdangerous.timed.time.time", lambda: later)
    assert browser.get("/").status_code == 303


def test_passwords_are_kept_as_argon2id_of_rfc_9106(orchard: Orchard) -> None:
    with orchard.reading() as connection:
        hashes = connection.execute(text("SELECT password FROM people")).scalars().all()
        tokens = connection.execute(text("SELECT count(*) FROM sign_ins")).scalar()
    assert tokens == 0
    assert len(set(hashes)) == 3
    for each in hashes:
        assert extract_parameters(each) == RFC_9106_LOW_MEMORY
        assert PasswordHasher().verify(each, PASSWORD)


def test_what_will_not_do_as_an_account_is_refused(orchard: Orchard) -> None:
    with pytest.raises(InputError, match="10 to 1000"):
        add_person(orchard, "Di", "look", "short", NOW)
    with pytest.raises(InputError, match="name of its own"):
        add_person(orchard, "INES", "look", PASSWORD, NOW)
    with pytest.raises(InputError, match="a role is one of"):
        add_person(orchard, "Di", "king", PASSWORD, NOW)
    with pytest.raises(InputError, match="1 to 80 letters"):
        add_person(orchard, "Di\u202e", "look", PASSWORD, NOW)
    with pytest.raises(UnknownNameError):
        remove_person(orchard, "Nobody")


def test_a_hostile_name_is_shown_as_text(orchard: Orchard) -> None:
    browser = browser_of(orchard, Clock())
    form = {"name": '"><script>alert(1)</script>', "password": "x", "on": '"><script>'}
    page = browser.post("/sign-in", data=form).get_data(as_text=True)
    assert "<script>" not in page
    assert texts.WRONG in page
