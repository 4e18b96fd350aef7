"""The whole orchard as files: its tables in a zip, or one copy of its database."""

from __future__ import annotations

from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from zipfile import ZIP_DEFLATED, ZipFile

from dash import Dash
from flask import Blueprint, Response

from dashboard import texts
from dashboard.data import backup_orchard, export_folder
from dashboard.downloads import file_name
from dashboard.security import ACCOUNTS, LOOK, require
from dashboard.source import Source

EXPORT_CSV, EXPORT_XLSX, BACKUP = "export/tables-csv.zip", "export/tables-xlsx.zip", "export/backup"


def connect(app: Dash, source: Source) -> None:
    """Hang the files on the app."""
    routes = Blueprint("taking_out", __name__)

    @routes.get(f"/{EXPORT_CSV}")
    def as_csv() -> Response:
        require(LOOK)
        return _file(zipped(source, xlsx=False), _name(source) + "-csv.zip")

    @routes.get(f"/{EXPORT_XLSX}")
    def as_xlsx() -> Response:
        require(LOOK)
        return _file(zipped(source, xlsx=True), _name(source) + "-xlsx.zip")

    @routes.get(f"/{BACKUP}")
    def backup() -> Response:
        require(ACCOUNTS)
        ending = ".dump" if source.orchard.engine.dialect.name == "postgresql" else ".sqlite"
        with TemporaryDirectory() as folder:
            path = Path(folder) / f"backup{ending}"
            backup_orchard(source.orchard, path, datetime.now(UTC))
            return _file(path.read_bytes(), _name(source) + f"-backup{ending}")

    app.server.register_blueprint(routes, url_prefix=app.config.routes_pathname_prefix.rstrip("/"))


def zipped(source: Source, *, xlsx: bool) -> bytes:
    """The folder that `harvest export` writes, in one file."""
    packed = BytesIO()
    with TemporaryDirectory() as place:
        folder = Path(place) / "orchard"
        export_folder(source.orchard, folder, xlsx=xlsx)
        with ZipFile(packed, "w", ZIP_DEFLATED) as archive:
            for path in sorted(folder.rglob("*")):
                if path.is_file():
                    archive.write(path, path.relative_to(folder).as_posix())
    return packed.getvalue()


def _name(source: Source) -> str:
    name = source.overview(source.home_date()).name or texts.APP_TITLE
    return f"{file_name(name)}-{source.latest_date().isoformat()}"


def _file(content: bytes, name: str) -> Response:
    answer = Response(content, mimetype="application/octet-stream")
    answer.headers.set("Content-Disposition", "attachment", filename=name)
    answer.headers["Cache-Control"] = "no-store"
    return answer
