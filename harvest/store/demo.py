"""The demo orchard: an invented scenario, built from the files in data/demo."""

from __future__ import annotations

import json
from datetime import date, datetime
from pathlib import Path

from harvest.errors import StoreError
from harvest.records import KINDS
from harvest.store.about import About, read_about, write_about
from harvest.store.history import Signature
from harvest.store.importing import ImportReport, import_file
from harvest.store.orchard import Orchard, create_orchard
from harvest.store.reading import count_kinds
from harvest.store.reference import data_folder

SIGNED = "the demo"


def create_demo(address: str, at: datetime | None = None) -> tuple[Orchard, list[ImportReport]]:
    """Build the demo orchard at an address, or bring what is there up to it; with the reports.

    Parameters
    ----------
    at : the moment (UTC), for the history; None: not known.

    Raises StoreError where a real orchard is kept: invented records never go among real ones.
    """
    folder = data_folder() / "demo"
    about = read_demo_about()
    assert about.demo_as_of is not None
    orchard = create_orchard(address)
    if read_about(orchard).demo_as_of is None and any(count_kinds(orchard).values()):
        orchard.engine.dispose()
        raise StoreError(
            "the demo needs an orchard of its own",
            given="an orchard with records",
            where=orchard.address,
            todo="Nothing was changed. Name another: 'harvest --orchard demo.sqlite demo'.",
        )
    signed = Signature(SIGNED, at)
    write_about(orchard, about, signed)  # first, so that a demo cut short can be gone on with
    files = {kind: folder / f"{kind}.csv" for kind in KINDS}
    reports = [
        import_file(orchard, kind, file, today=about.demo_as_of, signed=signed)
        for kind, file in files.items()
        if file.exists()
    ]
    return orchard, reports


def read_demo_about(path: Path | None = None) -> About:
    """Name, note and as-of date of the demo."""
    text = (path or data_folder() / "demo" / "demo.json").read_text(encoding="utf-8")
    facts = json.loads(text)
    return About(facts["name"], facts["note"], date.fromisoformat(facts["as_of"]))
