"""Photos and notes attached to any record: what may be attached, and what is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import PurePosixPath, PureWindowsPath
from typing import Any

from sqlalchemy import Connection, Row, select

from harvest.errors import InputError, StoreError
from harvest.records import KINDS
from harvest.store.attached_files import keep_file, read_file, sha256_of
from harvest.store.bulk import Plain, read_plain
from harvest.store.history import UNKNOWN, Signature, batch
from harvest.store.naming import tree_named
from harvest.store.orchard import Orchard
from harvest.store.schema import ATTACHMENTS, TABLES

MEGABYTE = 1_000_000
MOST_BYTES = 25 * MEGABYTE
MOST_LETTERS = 120
# What a file is, by its first bytes: registered media types (IANA) and their published signatures.
SIGNATURES: tuple[tuple[int, bytes, str], ...] = (
    (0, b"\xff\xd8\xff", "image/jpeg"),
    (0, b"\x89PNG\r\n\x1a\n", "image/png"),
    (0, b"GIF87a", "image/gif"),
    (0, b"GIF89a", "image/gif"),
    (8, b"WEBP", "image/webp"),
    (4, b"ftypheic", "image/heic"),
    (4, b"ftypheix", "image/heic"),
    (4, b"ftypmif1", "image/heif"),
    (4, b"ftypavif", "image/avif"),
    (0, b"%PDF-", "application/pdf"),
)
TEXT = "text/plain"


@dataclass(frozen=True)
class Attachment:
    """A photo or a note that hangs on a record."""

    id: int
    kind: str
    record_id: int
    tree: str | None
    site: str | None
    """Whose record it is; a tree's site is not repeated here."""
    date: date
    filename: str
    media_type: str
    bytes: int
    sha256: str
    note: str
    who: str
    at: datetime | None


def attach(
    orchard: Orchard,
    kind: str,
    record_id: int,
    filename: str,
    data: bytes,
    *,
    signed: Signature,
    today: date,
    note: str = "",
) -> Attachment:
    """Attach a photo, a PDF or a text to a record; one that hangs on it already stays as it is.

    Parameters
    ----------
    kind, record_id : the record; `trees` for a photo of the tree as such.
    data : at most 25 MB; what it is, is read off the content, not the name.
    today : the day it is kept under.

    Raises InputError where there is no such record or the file is of another sort or size,
    StoreError where it cannot be written; nothing is attached then.
    """
    media_type = media_type_of(data, filename)
    with orchard.writing() as connection, batch(connection, "attach", signed) as made:
        owner = owner_of(connection, kind, record_id)
        name = sha256_of(data)
        there = _hanging(connection, kind, record_id, name)
        if there is None:
            keep_file(connection, data)
            row: Plain = {
                "kind": kind, "record_id": record_id, **owner, "date": today.isoformat(),
                "filename": plain_name(filename), "media_type": media_type, "bytes": len(data),
                "sha256": name, "note": note.strip() or None, "who": signed.who or UNKNOWN,
                "attached_at": signed.at and signed.at.replace(tzinfo=None).isoformat(),
            }  # fmt: skip
            made.note = f"{row['filename']} to {_hung_on(connection, row)}"
            made.insert("attachments", {column: [value] for column, value in row.items()})
            there = _hanging(connection, kind, record_id, name)
        assert there is not None
        return there


def attachments(orchard: Orchard, tree: str | None = None) -> list[Attachment]:
    """What hangs on a tree and its records, or on all; the newest first.

    A tree is found by a part of its name as well. Raises as `tree_named`.
    """
    with orchard.reading() as connection:
        query = _query().order_by(ATTACHMENTS.c.date.desc(), ATTACHMENTS.c.id.desc())
        if tree is not None:
            full = tree_named(connection, tree, date.max).casefold()
            query = query.where(TABLES["trees"].c.tree_key == full)
        return [_told(row) for row in connection.execute(query)]


def attachment_bytes(orchard: Orchard, sha256: str) -> bytes:
    """The content of what is attached, by its name.

    Raises InputError where nothing of that name is attached, StoreError where its file is gone,
    or is not what its name says.
    """
    with orchard.reading() as connection:
        known = select(ATTACHMENTS.c.id).where(ATTACHMENTS.c.sha256 == sha256)
        if connection.execute(known).first() is None:
            raise InputError("an attachment of this name must be on record", given=repr(sha256))
        data = read_file(connection, sha256)
    if data is None:
        raise StoreError(
            "the attached file must be in its folder",
            given="no such file",
            where=sha256,
            todo="Bring it back from a backup's folder of attachments.",
        )
    return data


def detach(orchard: Orchard, attachment: int, signed: Signature) -> int | None:
    """Take an attachment off its record; the file and the history stay, `undo` brings it back.

    The number of the change. Raises InputError where there is none of that number.
    """
    with orchard.writing() as connection, batch(connection, "detach", signed) as made:
        stored = read_plain(connection, ATTACHMENTS, [attachment]).get(attachment)
        if stored is None:
            raise InputError(
                "an attachment of this number must be on record", given=str(attachment)
            )
        made.note = f"{stored['filename']} from {_hung_on(connection, stored)}"
        made.remove("attachments", [attachment])
    return made.number


def media_type_of(data: bytes, filename: str) -> str:
    """What a file is, by its content. Raises InputError where it may not be attached."""
    if not data:
        raise InputError("a file to attach must hold something", given="nothing", where=filename)
    if len(data) > MOST_BYTES:
        raise InputError(
            f"a file to attach has at most {MOST_BYTES // MEGABYTE} MB",
            given=f"{len(data) / MEGABYTE:.1f} MB",
            where=filename,
            todo="Make the picture smaller and attach it again.",
        )
    for start, sign, media_type in SIGNATURES:
        if data[start : start + len(sign)] == sign:
            return media_type
    if b"\0" not in data:
        try:
            data.decode("utf-8")
        except UnicodeDecodeError:
            pass
        else:
            return TEXT
    raise InputError(
        "a file to attach is a picture (JPEG, PNG, WebP, HEIC, AVIF, GIF), a PDF or a text",
        given="something else, by its content",
        where=filename,
        todo="Nothing was attached. Save it as one of these; a text as UTF-8.",
    )


def plain_name(filename: str) -> str:
    """A file's own name without any folder, printable, its ending kept."""
    name = PureWindowsPath(PurePosixPath(filename).name).name
    name = "".join(letter if letter.isprintable() else "_" for letter in name).strip(". ")
    ending = PurePosixPath(name).suffix[:10]
    stem = name[: len(name) - len(ending)] if ending else name
    return f"{stem[: MOST_LETTERS - len(ending)]}{ending}" or "unnamed"


def owner_of(connection: Connection, kind: str, record: int) -> Plain:
    """The tree or the site that a record is about. Raises InputError where there is no record."""
    if kind not in KINDS or kind == "weather":
        raise InputError(
            "photos and notes hang on a record", given=repr(kind),
            todo=f"One of: {', '.join(name for name in KINDS if name != 'weather')}.",
        )  # fmt: skip
    stored = read_plain(connection, TABLES[kind], [record]).get(record)
    if stored is None:
        raise InputError(f"the record among {kind} must be there", given=f"number {record}")
    tree = record if kind == "trees" else stored.get("tree_id")
    site = record if kind == "sites" else None if kind == "trees" else stored.get("site_id")
    return {"tree_id": tree, "site_id": site}


def _hung_on(connection: Connection, attached: Plain) -> str:
    """What something hangs on, in words: a tree or site by its name, or a record of it."""
    owner = "site" if attached["tree_id"] is None else "tree"
    table = TABLES[f"{owner}s"]
    name = select(table.c[owner]).where(table.c.id == attached[f"{owner}_id"])
    whose = str(connection.execute(name).scalar_one())
    kind = str(attached["kind"])
    return whose if kind in ("trees", "sites") else f"a {kind[:-1]} of {whose}"


def _query() -> Any:
    trees, sites, table = TABLES["trees"], TABLES["sites"], ATTACHMENTS
    source = table.outerjoin(trees, table.c.tree_id == trees.c.id).outerjoin(
        sites, table.c.site_id == sites.c.id
    )
    return select(table, trees.c.tree, sites.c.site).select_from(source)


def _hanging(connection: Connection, kind: str, record: int, name: str) -> Attachment | None:
    table = ATTACHMENTS
    own = (table.c.kind == kind) & (table.c.record_id == record) & (table.c.sha256 == name)
    row = connection.execute(_query().where(own)).first()
    return None if row is None else _told(row)


def _told(row: Row[Any]) -> Attachment:
    return Attachment(
        id=row.id, kind=row.kind, record_id=row.record_id, tree=row.tree, site=row.site,
        date=row.date, filename=row.filename, media_type=row.media_type, bytes=row.bytes,
        sha256=row.sha256, note=row.note or "", who=row.who, at=row.attached_at,
    )  # fmt: skip
