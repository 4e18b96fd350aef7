"""Signing in and out, where the dashboard is reached from other computers.

The browser holds a sealed cookie with a token; whose it is stands in the database, so that any
process of the app knows it, and signing out ends it for good. A cookie that has not been used for
`IDLE` opens nothing. The page that asks is plain HTML and works without the app.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import quote, urlsplit

from dash import Dash
from flask import Blueprint, Flask, abort, g, redirect, render_template, request, session
from flask.sessions import SecureCookieSessionInterface
from werkzeug.wrappers import Response

from dashboard import offline, texts
from dashboard.data import Orchard, cookie_key, sign_in, sign_out, who_holds
from dashboard.security import DASH_CALL, LOG, READS, require
from dashboard.source import Source
from dashboard.texts import people as people_texts
from dashboard.words import shown


class _Cookies(SecureCookieSessionInterface):
    """Cookies that only ever travel encrypted, where the page itself does."""

    def get_cookie_secure(self, app: Flask) -> bool:  # noqa: ARG002
        return request.is_secure


IDLE = timedelta(hours=12)
TOKEN = "token"
COOKIE = "orchard"
SIGN_IN, SIGN_OUT = "sign-in", "sign-out"
OPEN = ("assets/", "_favicon.ico", SIGN_IN, *offline.OPEN)
Answer = Response | str | tuple[str, int]


def connect(app: Dash, source: Source, *, now: Callable[[], datetime] | None = None) -> None:
    """Ask everyone to sign in.

    Parameters
    ----------
    now : the clock (UTC), for tests; without it the real one.
    """
    clock = now or (lambda: datetime.now(UTC))
    server: Flask = app.server
    prefix: str = app.config.routes_pathname_prefix
    server.secret_key = cookie_key(source.orchard)
    server.config.update(
        SESSION_COOKIE_NAME=COOKIE,
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        SESSION_COOKIE_PATH=prefix,
        PERMANENT_SESSION_LIFETIME=IDLE,
        SESSION_REFRESH_EACH_REQUEST=True,
    )
    server.session_interface = _Cookies()
    server.before_request(lambda: _known_or_asked(source.orchard, prefix, clock()))
    server.register_blueprint(_routes(source, prefix, clock), url_prefix=prefix.rstrip("/"))


def _routes(source: Source, prefix: str, clock: Callable[[], datetime]) -> Blueprint:
    routes = Blueprint("signing_in", __name__, template_folder="templates")

    @routes.get(f"/{SIGN_IN}")
    def ask() -> Answer:
        return _page(source, prefix, on=request.args.get("on", ""))

    @routes.post(f"/{SIGN_IN}")
    def let_in() -> Answer:
        name, password = request.form.get("name", ""), request.form.get("password", "")
        on = request.form.get("on", "")
        tried = sign_in(source.orchard, name, password, request.remote_addr or "", clock())
        if tried.token is None:
            said = people_texts.WAIT if tried.must_wait else people_texts.WRONG
            return _page(
                source, prefix, said=said, name=name, on=on
            ), 429 if tried.must_wait else 401
        session.clear()
        session.permanent = True
        session[TOKEN] = tried.token
        return redirect(_within(prefix, on), 303)

    @routes.post(f"/{SIGN_OUT}")
    def let_out() -> Answer:
        sign_out(source.orchard, session.get(TOKEN, ""), clock())
        session.clear()
        return redirect(prefix + SIGN_IN, 303)

    return routes


def _page(source: Source, prefix: str, said: str = "", name: str = "", on: str = "") -> str:
    orchard = shown(source.overview(source.home_date()).name or texts.APP_TITLE)
    return render_template(
        "sign_in.html", texts=people_texts, orchard=orchard, prefix=prefix, said=said,
        name=name[:80], on=on, unsafe=not (request.is_secure or _same_computer()),
    )  # fmt: skip


def _known_or_asked(orchard: Orchard, prefix: str, at: datetime) -> Any:
    """Know who sends a request; send whoever is not signed in to the page that asks."""
    path = request.path.removeprefix(prefix)
    token = session.get(TOKEN)
    person = who_holds(orchard, token, at) if token else None
    if person is not None:
        g.person_name, g.person_role = person.name, person.role
        if request.method not in READS and path not in (DASH_CALL, SIGN_OUT, SIGN_IN):
            require(_least(path))
        return None
    if path.startswith(OPEN):
        return None
    if request.method not in READS or path.startswith(("_", "entries")):
        abort(401)
    return redirect(f"{prefix}{SIGN_IN}?on={_asked()}", 303)


def _least(path: str) -> str:
    """What one must be allowed to do to send something to a path that does not say so itself."""
    return "look" if path.startswith("downloads/") else LOG


def _asked() -> str:
    return quote(request.full_path.rstrip("?"), safe="")


def _within(prefix: str, on: str) -> str:
    """Where to go on to after signing in: a page of this app, whatever the address asks for."""
    asked = urlsplit(on)
    inside = not asked.scheme and not asked.netloc and asked.path.startswith(prefix)
    return on if inside and not on.startswith("//") and "\\" not in on else prefix


def _same_computer() -> bool:
    return request.remote_addr in ("127.0.0.1", "::1")
