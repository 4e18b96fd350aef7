from __future__ import annotations

import pytest
from flask import g
from flask.testing import FlaskClient

from dashboard import security
from harvest.store.orchard import Orchard
from tests.dashboard.client import app_of

PAGE = "http://localhost/"


@pytest.fixture
def browser(demo: Orchard) -> FlaskClient:
    return app_of(demo).server.test_client()


def test_a_page_tells_browsers_to_load_nothing_from_elsewhere(browser: FlaskClient) -> None:
    answer = browser.get("/")
    said = answer.headers["Content-Security-Policy"]
    scripts = next(part for part in said.split("; ") if part.startswith("script-src"))
    assert "unsafe" not in scripts
    assert "frame-ancestors 'none'" in said
    assert "http" not in said
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "same-origin"


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Origin": "http://localhost:9999"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
@pytest.mark.parametrize("path", ["/entries", "/entries/undo", "/_dash-update-component"])
def test_another_sites_page_changes_nothing(
    browser: FlaskClient, headers: dict[str, str], path: str
) -> None:
    assert browser.post(path, json={}, headers=headers).status_code == 403


def test_another_name_that_leads_here_is_refused(browser: FlaskClient) -> None:
    assert browser.get("/", headers={"Host": "rebound.example"}).status_code == 400
    assert browser.get("/", headers={"Host": "127.0.0.1:8050"}).status_code == 200


def test_a_request_that_is_too_large_is_refused(browser: FlaskClient) -> None:
    large = b"0" * (security.MOST_BYTES + 1)
    answer = browser.post("/entries", data=large, content_type="application/json")
    assert answer.status_code == 413


def test_a_role_may_do_what_those_before_it_may(demo: Orchard) -> None:
    server = app_of(demo).server
    with server.test_request_context("/"):
        assert security.may(security.ACCOUNTS)
        assert security.current_name() == "dashboard"
        g.person_role, g.person_name = security.LOG, "Ines"
        assert security.may(security.LOOK)
        assert security.may(security.LOG)
        assert not security.may(security.CHANGE)
        assert security.current_name() == "Ines"
    assert security.current_name() == "dashboard"
