"""The log without a server: what a browser keeps so that it opens where there is no signal.

A worker in the browser (`templates/worker.js`) keeps the files below, which are the same for
everybody. Trees and words come from what the log's own script remembers, which is forgotten when
somebody signs out.
"""

from __future__ import annotations

from functools import cache
from hashlib import sha256
from pathlib import Path

from dash import Dash
from flask import Blueprint, Response, render_template

from dashboard import texts
from dashboard.texts import offline as own_texts

WORKER, LOG_PAGE, OTHER_PAGE = "worker.js", "offline/log", "offline/page"
OPEN = (WORKER, "offline/")
"""Paths that need no sign-in: there is nothing of the orchard in them."""
FOLDER = Path(__file__).parent
MADE_OF = ("assets/*", "templates/*", "entries.py", "texts/log.py", "texts/offline.py")
STYLES = ("look.css", "date_field.css", "log.css", "offline.css")
SCRIPTS = ("tables.js", "date_field.js", "entry_queue.js", "log_form.js", "offline.js")


@cache
def version() -> str:
    """A name for the files as they are; others have another."""
    digest = sha256()
    for path in sorted(path for pattern in MADE_OF for path in FOLDER.glob(pattern)):
        digest.update(path.name.encode() + path.read_bytes())
    return digest.hexdigest()[:16]


def connect(app: Dash) -> None:
    """Hang the worker, and the pages that it keeps, on the app."""
    routes = Blueprint("offline", __name__, template_folder="templates")
    prefix: str = app.config.requests_pathname_prefix

    @routes.get(f"/{WORKER}")
    def worker() -> Response:
        files = [prefix + LOG_PAGE, prefix + OTHER_PAGE, *_files(prefix, (*STYLES, *SCRIPTS))]
        script = render_template("worker.js", prefix=prefix, files=files, version=version())
        answer = Response(script, mimetype="text/javascript")
        answer.headers["Cache-Control"] = "no-cache"
        return answer

    @routes.get(f"/{LOG_PAGE}")
    def log_page() -> str:
        return _page(prefix, texts.PAGE_TITLES["log"], own_texts.LOG, log=True)

    @routes.get(f"/{OTHER_PAGE}")
    def other_page() -> str:
        return _page(prefix, own_texts.TITLE, own_texts.OTHER, log=False)

    app.server.register_blueprint(routes, url_prefix=app.config.routes_pathname_prefix.rstrip("/"))


def _page(prefix: str, title: str, said: str, *, log: bool) -> str:
    return render_template(
        "offline.html", prefix=prefix, title=title, said=said, log=log, texts=own_texts,
        version=version(), styles=_files(prefix, STYLES), scripts=_files(prefix, SCRIPTS),
    )  # fmt: skip


def _files(prefix: str, names: tuple[str, ...]) -> list[str]:
    return [f"{prefix}assets/{name}?v={version()}" for name in names]
