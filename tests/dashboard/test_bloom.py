from datetime import date
from typing import Any

import pytest

from dashboard.figures.bloom import bloom_figure
from dashboard.pages.bloom import sentence, table_rows
from dashboard.source import Source
from dashboard.views.bloom import by_verdict, in_bloom, next_to_bloom, rows_of
from harvest.care.texts import FROST_WORK
from harvest.store.orchard import Orchard
from tests.dashboard.client import Client, all_text, app_of, find
from tests.dashboard.made_up import AS_OF

SPRING = date(2026, 4, 20)


@pytest.fixture(scope="module")
def source(demo: Orchard) -> Source:
    return Source(demo, lambda: AS_OF, AS_OF)


def test_every_tree_has_one_verdict_and_every_known_bloom_one_place(source: Source) -> None:
    blooms = source.pollination(AS_OF)
    told = [tree for groups in by_verdict(blooms).values() for one in groups for tree in one.trees]
    assert sorted(told) == sorted(one.tree for one in blooms)
    rows = rows_of(blooms, each_tree=False)
    assert [row.first for row in rows] == sorted(row.first for row in rows)
    known = sorted(one.tree for one in blooms if one.bloom_first is not None)
    assert sorted(tree for row in rows for tree in row.trees) == known
    assert len(rows_of(blooms, each_tree=True)) == len(known)


def test_the_picture_has_a_band_for_each_row_and_words_for_each_verdict(source: Source) -> None:
    rows = rows_of(source.pollination(AS_OF), each_tree=True)
    figure = bloom_figure(rows, AS_OF)
    bands = [trace for trace in figure.data if trace.type == "bar"]
    assert sum(len(trace.y) for trace in bands) == len(rows)
    said = [text for trace in figure.data if is_text(trace) for text in trace.text]
    assert len(said) == 2 * len(rows)


def test_the_sentence_names_what_blooms_and_what_lacks_a_partner(source: Source) -> None:
    blooms = source.pollination(SPRING)
    open_now = in_bloom(blooms, SPRING)
    assert open_now
    said = sentence(blooms, SPRING)
    assert said.startswith("On 20 April 2026: in bloom ")
    coming = next_to_bloom(blooms, SPRING)
    assert coming is not None
    assert f"next {coming.cultivar} ({coming.site})" in said


def test_what_is_unknown_is_called_so(source: Source) -> None:
    blooms = source.pollination(AS_OF)
    for one, row in zip(blooms, table_rows(blooms), strict=True):
        if one.bees is None or one.bees.share is None:
            assert row["bees"] == "unknown"
        if one.bees is None or one.bees.calm_share is None:
            assert row["calm"] == "unknown"
        assert row["reasons"]


def test_frost_at_bloom_has_temperatures_stage_source_and_cautions(demo: Orchard) -> None:
    page = Client(app_of(demo)).page("/bloom", "?as_of=2026-04-20&site=Quernwell")
    said = all_text(page)
    assert FROST_WORK in said
    assert "kills about a tenth of the flowers or buds" in said
    assert "Stage: full bloom, logged" in said
    assert "WSU Extension Bulletin" in said
    assert "No weather forecast is stored, so frost ahead is unknown." in said
    assert "in bloom" in all_text(find(page, "answer"))
    assert "Warm, dry and calm enough was from" in said
    assert "the day’s mean wind was at most 24 km/h, though single hours" in said


def test_frost_long_over_is_no_alarm(source: Source) -> None:
    for frost in source.bloom_frost(AS_OF):
        assert (frost.when == "over") == (frost.last < AS_OF)
        assert bool(frost.says) == (frost.when != "over")


def is_text(trace: Any) -> bool:
    return bool(trace.type == "scatter" and trace.mode == "text")
