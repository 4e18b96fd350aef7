"""What a browser keeps for when there is no server: the same for all, nothing of the orchard."""

from __future__ import annotations

import json
import re

import pytest
from flask.testing import FlaskClient

from dashboard import offline
from dashboard.app import create_app
from dashboard.texts import offline as texts
from harvest.store.orchard import Orchard
from tests.dashboard.made_up import AS_OF


@pytest.fixture
def stranger(demo: Orchard) -> FlaskClient:
    """Somebody who has not signed in, at an app under a path."""
    app = create_app(demo, today=lambda: AS_OF, url_prefix="/trees/", accounts=True)
    client: FlaskClient = app.server.test_client()
    return client


def test_whoever_asks_gets_all_that_is_kept_and_nothing_of_the_orchard(
    stranger: FlaskClient,
) -> None:
    answer = stranger.get("/trees/worker.js")
    assert answer.mimetype == "text/javascript"
    found = re.search(r"const FILES = (\[.*\]);", answer.text)
    assert found
    files = json.loads(found[1])
    assert "/trees/offline/log" in files
    for path in files:
        with stranger.get(path) as got:
            assert got.status_code == 200, path
            said = got.get_data(as_text=True)
            assert "Half-Year" not in said
            if got.mimetype == "text/html":
                assert "script-src 'self'" in got.headers["Content-Security-Policy"]
                # The browser has no more than it was told to keep.
                asked = re.findall(r'(?:src|href)="(/[^"]+)"', said)
                assert set(asked) - {"/trees/log"} <= set(files)
    assert texts.OTHER in stranger.get("/trees/offline/page").text
    assert stranger.get("/trees/entries/choices").status_code == 401


def test_other_files_have_another_version(monkeypatch: pytest.MonkeyPatch) -> None:
    now = offline.version()
    assert now == offline.version.__wrapped__()
    monkeypatch.setattr(offline, "MADE_OF", ("assets/log.css",))
    assert offline.version.__wrapped__() != now
