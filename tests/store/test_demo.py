"""The demo goes in as its README says, never among real records, and stays what it is."""

from __future__ import annotations

import shutil
from datetime import timedelta
from pathlib import Path

import pandas as pd
import pytest

from harvest.errors import StoreError
from harvest.service import records
from harvest.store import demo
from harvest.store.about import About, read_about, write_about
from harvest.store.demo import create_demo, read_demo_about
from harvest.store.importing import ImportReport
from harvest.store.orchard import Orchard, open_orchard
from harvest.store.reading import count_kinds
from harvest.store.reference import data_folder
from tests.orchards import plant
from tests.store.test_importing import stored


def test_every_row_goes_in_but_the_one_that_is_wrong_on_purpose(
    demo_template: Path, tmp_path: Path
) -> None:
    copy = shutil.copyfile(demo_template, tmp_path / "demo.sqlite")
    counts = count_kinds(open_orchard(str(copy)))
    for kind, count in counts.items():
        file = data_folder() / "demo" / f"{kind}.csv"
        if kind == "grafts":  # no tree of the demo was grafted over
            assert (count, file.exists()) == (0, False)
            continue
        text = file.read_text(encoding="utf-8")
        assert count == text.count("\n") - 1 - (kind == "picks"), kind
    before = stored(open_orchard(str(copy)))
    orchard, reports = create_demo(str(copy))
    assert stored(orchard) == before
    refused = [refusal for report in reports for refusal in report.refused]
    assert [(refusal.line, refusal.column) for refusal in refused] == [(1000, "weight_kg")]
    assert refused[0].value.startswith("-")
    assert sum(report.new + report.changed for report in reports) == 0


def test_it_says_what_it_is(demo_template: Path) -> None:
    about = read_about(open_orchard(str(demo_template)))
    assert about == read_demo_about()
    assert "invented" in about.name
    assert "Invented" in about.note
    assert about.demo_as_of is not None


def test_it_never_goes_into_a_real_orchard(orchard: Orchard, tmp_path: Path) -> None:
    plant(orchard, tmp_path)
    write_about(orchard, About(name="Ours"))
    before = stored(orchard)
    with pytest.raises(StoreError, match="an orchard of its own; given: an orchard with records"):
        create_demo(str(orchard.engine.url.render_as_string(hide_password=False)))
    assert stored(orchard) == before
    assert read_about(orchard) == About(name="Ours")


def test_a_demo_cut_short_can_be_gone_on_with(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = demo.import_file

    def cut(orchard: Orchard, kind: str, *rest: object, **more: object) -> ImportReport:
        if kind == "weather":
            raise KeyboardInterrupt
        return real(orchard, kind, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(demo, "import_file", cut)
    address = str(tmp_path / "demo.sqlite")
    with pytest.raises(KeyboardInterrupt):
        create_demo(address)
    monkeypatch.undo()
    _, reports = create_demo(address)
    assert {report.kind: report.same > 0 for report in reports}["trees"]
    assert {report.kind: report.new > 0 for report in reports}["picks"]


def test_every_pick_belongs_to_a_bloom_that_could_have_made_it(demo_template: Path) -> None:
    """Both hemispheres, citrus picked across the season's turn: each pick of a season with a
    logged bloom comes after it, within the longest time any fruit here hangs (orange, 15 months:
    common practice, no source), and before the next bloom's fruit."""
    as_of = read_demo_about().demo_as_of
    assert as_of is not None
    known = records(open_orchard(str(demo_template)), as_of)
    blooms = known.stages[known.stages["bbch"] == 65].groupby(["tree", "season"])["date"].min()
    picks = known.picks.join(blooms.rename("bloom"), on=["tree", "season"]).dropna(subset="bloom")
    hung = (picks["date"] - picks["bloom"]) / timedelta(days=1)
    assert len(picks) > 1000
    assert hung.between(40, 460).all()
    citrus = picks[picks["tree"].isin(["S1-01", "S1-02", "S1-03"])]
    assert set(citrus["date"].dt.month) >= {6, 7, 8}
    spans = picks.groupby(["tree", "season"])["date"].agg(lambda days: days.max() - days.min())
    assert spans.max() < pd.Timedelta(days=120)


# What an orchard says of itself


def test_what_an_orchard_says_of_itself_is_kept_and_replaced(orchard: Orchard) -> None:
    assert read_about(orchard) == About()
    write_about(orchard, About(name="Ours", note="north slope"))
    assert read_about(orchard) == About(name="Ours", note="north slope")
    write_about(orchard, read_demo_about())
    assert read_about(orchard) == read_demo_about()
    write_about(orchard, About(name="Ours"))
    assert read_about(orchard) == About(name="Ours")
