"""Who is at the page and what they may do, and what keeps strangers' pages out.

A request is let in by `guard`: the host it names must be ours, and whatever changes something must
come from a page of this app. Who sent it is known by `signing_in`, where accounts are on; without
accounts whoever reaches the page may do everything, as on a computer of one's own.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from flask import Flask, Response, abort, g, has_request_context, request

if TYPE_CHECKING:
    from dash import Dash

LOOK, LOG, CHANGE, ACCOUNTS = "look", "log", "change", "accounts"
# Each may do what those before it may.
ROLES = (LOOK, LOG, CHANGE, ACCOUNTS)
NAMELESS = "dashboard"
LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
READS = ("GET", "HEAD", "OPTIONS")
MOST_BYTES = 16 * 1024 * 1024
DASH_CALL = "_dash-update-component"


def current_name() -> str:
    """Under which name the changes of this request are kept.

    Whoever is signed in; without accounts the name set for the orchard; else `dashboard`.
    """
    if not has_request_context():
        return NAMELESS
    return str(g.get("person_name") or NAMELESS)


def may(role: str) -> bool:
    """Whether whoever sent this request may do what the role may."""
    if not has_request_context():
        return True
    held = g.get("person_role", ACCOUNTS)
    return ROLES.index(held) >= ROLES.index(role)


def role_held() -> str | None:
    """What whoever sent this request may do; None where there are no accounts."""
    return g.get("person_role") if has_request_context() else None


def require(role: str) -> None:
    """Refuse the request (403) unless whoever sent it may do what the role may."""
    if not may(role):
        abort(403)


def guard(app: Dash, hosts: Sequence[str] | None = LOOPBACK) -> None:
    """Let in only what comes from pages of this app, and say so to browsers.

    Parameters
    ----------
    hosts : names under which the app may be asked for, against other sites' names that lead here;
        None for any, where accounts protect it.
    """
    server: Flask = app.server
    server.config["MAX_CONTENT_LENGTH"] = MOST_BYTES
    if hosts is not None:
        server.config["TRUSTED_HOSTS"] = list(hosts)

    @server.before_request
    def own_pages_only() -> None:
        _ = request.host  # refused with 400 where it is not among the hosts
        if request.method not in READS and not from_own_page():
            abort(403)

    @server.after_request
    def told(answer: Response) -> Response:
        for name, value in HEADERS.items():
            answer.headers.setdefault(name, value)
        if answer.mimetype == "text/html":
            answer.headers.setdefault("Content-Security-Policy", policy(app))
        return answer


HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


def from_own_page() -> bool:
    """Whether the request comes from a page of this app, or from no browser at all."""
    fetched = request.headers.get("Sec-Fetch-Site")
    if fetched is not None and fetched != "same-origin":
        return False
    origin = request.headers.get("Origin")
    return origin is None or urlsplit(origin).netloc == request.host


def policy(app: Dash) -> str:
    """What a page may load and run: nothing from elsewhere, no script that is not ours.

    Dash's own few lines in the page are let in by their hash. Figures and tables set their styles
    in the page, which is why those are free.
    """
    scripts = " ".join(dict.fromkeys(app.csp_hashes()))
    return "; ".join(
        (
            "default-src 'self'",
            f"script-src 'self' {scripts}",
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "font-src 'self' data:",
            "connect-src 'self'",
            "object-src 'none'",
            "base-uri 'none'",
            "form-action 'self'",
            "frame-ancestors 'none'",
        )
    )
