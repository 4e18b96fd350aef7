"""Photos and notes hang on records, named by their content, and nothing of them gets lost."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from pathlib import Path

import pytest

from harvest.errors import InputError, StoreError
from harvest.store.attached_files import attachments_folder
from harvest.store.attaching import (
    MOST_BYTES,
    attach,
    attachment_bytes,
    attachments,
    detach,
    media_type_of,
    plain_name,
)
from harvest.store.editing import remove_record, show_records
from harvest.store.history import Signature
from harvest.store.history_reading import read_batches, read_tree_history
from harvest.store.orchard import Orchard
from harvest.store.undoing import undo
from tests.orchards import TODAY

ADA = Signature("Ada", datetime(2026, 8, 12, 6, 30, tzinfo=UTC))
# The smallest files of their kind, by the signatures in the standards: JPEG (ITU-T T.81, SOI and
# the next marker's first byte), PNG (ISO/IEC 15948, 5.2), PDF (ISO 32000-1, 7.5.2), WebP (RFC 9649,
# 2.4), HEIF (ISO/IEC 23008-12, brand heic).
JPEG = b"\xff\xd8\xff\xe0" + bytes(40)
FILES = {
    "image/jpeg": JPEG,
    "image/png": b"\x89PNG\r\n\x1a\n" + bytes(20),
    "image/webp": b"RIFF\x1a\0\0\0WEBPVP8L",
    "image/heic": b"\0\0\0\x18ftypheic\0\0\0\0",
    "application/pdf": b"%PDF-1.7\n%\xe2\xe3",
    "text/plain": "Blüte früh".encode(),
}


def pick_of(orchard: Orchard, tree: str = "Zoë") -> int:
    return show_records(orchard, "picks", tree)[0].id


@pytest.mark.parametrize("media_type", FILES)
def test_what_a_file_is_comes_from_its_content(media_type: str) -> None:
    assert media_type_of(FILES[media_type], "anything.exe") == media_type


@pytest.mark.parametrize("data", [b"MZ\x90\0\x03", b"", b"PK\x03\x04\0", b"\xff\xfe\xfa"])
def test_another_sort_of_file_is_refused(data: bytes) -> None:
    with pytest.raises(InputError, match="to attach"):
        media_type_of(data, "photo.jpg")


def test_a_file_too_large_is_refused_with_the_limit() -> None:
    with pytest.raises(InputError, match=r"at most 25 MB; given: 25\.0 MB"):
        media_type_of(JPEG + bytes(MOST_BYTES), "photo.jpg")


@pytest.mark.parametrize(
    ("given", "name"),
    [
        ("../../etc/passwd", "passwd"),
        (r"C:\Photos\tree.jpg", "tree.jpg"),
        ("..", "unnamed"),
        ("a\nb.png", "a_b.png"),
        ("x" * 300 + ".jpeg", "x" * 115 + ".jpeg"),
    ],
)
def test_a_name_keeps_no_folder(given: str, name: str) -> None:
    assert plain_name(given) == name


def test_a_photo_hangs_on_a_record_of_its_tree(filled: Orchard) -> None:
    made = attach(filled, "picks", pick_of(filled), "crate.jpg", JPEG, signed=ADA, today=TODAY,
                  note="the first crate")  # fmt: skip
    assert made.sha256 == hashlib.sha256(JPEG).hexdigest()
    assert (made.tree, made.media_type, made.bytes) == ("Zoë", "image/jpeg", len(JPEG))
    assert (made.who, made.at, made.date) == ("Ada", datetime(2026, 8, 12, 6, 30), TODAY)
    assert attachments(filled, "Zoë") == attachments(filled) == [made]
    assert attachments(filled, "Pearmain") == []
    assert attachment_bytes(filled, made.sha256) == JPEG
    (told, *_) = read_tree_history(filled, "Zoë")
    assert (told.kind, told.record, told.action) == ("attachments", "crate.jpg (pick)", "attach")


def test_the_same_file_hangs_on_a_record_once_and_on_others_too(filled: Orchard) -> None:
    first = attach(filled, "picks", pick_of(filled), "a.jpg", JPEG, signed=ADA, today=TODAY)
    batches = len(read_batches(filled))
    again = attach(filled, "picks", pick_of(filled), "b.jpg", JPEG, signed=ADA, today=TODAY)
    assert again == first
    assert len(read_batches(filled)) == batches
    tree = show_records(filled, "trees", "Zoë")[0].id
    assert attach(filled, "trees", tree, "b.jpg", JPEG, signed=ADA, today=TODAY).id != first.id
    site = show_records(filled, "sites")[0]
    shed = attach(filled, "sites", site.id, "shed.jpg", JPEG, signed=ADA, today=TODAY)
    assert (shed.tree, shed.site) == (None, site.cells["site"])
    folder = attachments_folder(filled.engine.url)
    assert folder is None or [path.name for path in folder.iterdir()] == [first.sha256]


@pytest.mark.parametrize(("kind", "record"), [("picks", 999), ("weather", 1), ("secrets", 1)])
def test_it_must_hang_on_a_record(filled: Orchard, kind: str, record: int) -> None:
    with pytest.raises(InputError):
        attach(filled, kind, record, "a.jpg", JPEG, signed=ADA, today=TODAY)
    assert attachments(filled) == []


def test_taken_off_and_undone(filled: Orchard) -> None:
    made = attach(filled, "picks", pick_of(filled), "a.jpg", JPEG, signed=ADA, today=TODAY)
    number = detach(filled, made.id, ADA)
    assert attachments(filled) == []
    with pytest.raises(InputError, match="of this number"):
        detach(filled, made.id, ADA)
    undo(filled, number, ADA)
    assert attachments(filled) == [made]
    assert attachment_bytes(filled, made.sha256) == JPEG


def test_a_record_taken_away_takes_its_photos_along_and_undo_brings_both(filled: Orchard) -> None:
    shown = show_records(filled, "picks", "Zoë")[0]
    made = attach(filled, "picks", shown.id, "a.jpg", JPEG, signed=ADA, today=TODAY)
    remove_record(filled, "picks", shown, ADA)
    assert attachments(filled) == []
    undo(filled, None, ADA)
    assert attachments(filled) == [made]
    assert shown in show_records(filled, "picks", "Zoë")


def test_a_file_that_was_changed_or_lost_is_told(filled: Orchard, tmp_path: Path) -> None:
    made = attach(filled, "picks", pick_of(filled), "a.jpg", JPEG, signed=ADA, today=TODAY)
    folder = attachments_folder(filled.engine.url)
    if folder is None:
        with filled.writing() as connection:
            connection.exec_driver_sql("UPDATE attached_files SET data = 'x'")
    else:
        (folder / made.sha256).write_bytes(b"x")
    with pytest.raises(StoreError, match="damaged or changed"):
        attachment_bytes(filled, made.sha256)
    if folder is None:
        with filled.writing() as connection:
            connection.exec_driver_sql("DELETE FROM attached_files")
    else:
        (folder / made.sha256).unlink()
    with pytest.raises(StoreError, match="in its folder"):
        attachment_bytes(filled, made.sha256)
    with pytest.raises(InputError, match="of this name"):
        attachment_bytes(filled, "../passwd")
