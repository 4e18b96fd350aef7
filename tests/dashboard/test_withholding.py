import re
from datetime import date, timedelta
from typing import Any

import pytest

from dashboard import texts
from dashboard.data import SPRAY_CAUTIONS
from dashboard.figures import style
from dashboard.figures.withholding import withholding_figure
from dashboard.pages.may_i_pick import sentence, table_rows
from dashboard.texts import may_i_pick as held_texts
from dashboard.views.blocks import Block, blocks
from dashboard.views.windows import Window, windows, with_blocks
from dashboard.views.withholding import grouped, held_trees, readable, reasons, told_clear, too_soon
from harvest.care.applications import Application
from harvest.care.texts import picked_inside, picked_unknown
from harvest.care.withholding import PickedInside
from harvest.store.orchard import Orchard
from tests.dashboard.client import Client, all_text, app_of, find
from tests.dashboard.made_up import AS_OF, HOSTILE, LATITUDES, event, withheld

SPRAYED = date(2026, 8, 3)
WAIT = Application("Invented dust", SPRAYED, 28)
LOST = Application("Invented soap", date(2026, 8, 5), None)
UNTIL = date(2026, 8, 31)


def by_tree(*events: Any) -> list[Window]:
    return windows(events, (), LATITUDES, AS_OF, by_tree=True)


def inside(day: date = date(2026, 8, 10), used: Application = WAIT) -> PickedInside:
    if used.earliest_pick is None or used.withholding_days is None:
        says = picked_unknown(used.product, used.date)
    else:
        says = picked_inside(
            day, used.product, used.date, used.withholding_days, used.earliest_pick
        )
    return PickedInside(day, 4.0, used.product, used.date, used.earliest_pick, says)


def test_the_sentence_says_which_trees_and_why() -> None:
    said = sentence(
        [withheld("A1", "wait", WAIT), withheld("A2", "unknown", LOST), withheld("A3", "clear")],
        AS_OF,
    )
    assert said.startswith("2 of 3 trees may not be picked on 12 August 2026: ")
    assert "A1 not before 31 August (Invented dust of 3 August)" in said
    assert "A2 unknown: read the label (Invented soap of 5 August)" in said
    assert "A3" not in said


def test_nothing_logged_is_never_called_safe() -> None:
    said = sentence([withheld("A1", "clear")], AS_OF)
    assert "No label logged here forbids" in said
    assert "read its label" in said
    assert not re.search(r"safe|may be picked", said)


def test_an_unread_label_outweighs_a_wait_that_is_known() -> None:
    found = reasons([withheld("A1", "unknown", LOST, WAIT)])
    assert [(each.product, each.until) for each in found] == [("Invented soap", None)]


def test_reasons_gather_trees_and_the_commonest_comes_first() -> None:
    answers = [
        withheld("A1", "unknown", LOST),
        *(withheld(f"B{n}", "wait", WAIT) for n in range(9)),
    ]
    first, second = reasons(answers)
    assert (len(first.trees), first.until) == (9, UNTIL)
    assert second.trees == ("A1",)
    assert "B0, B1, B2, B3 and 5 more not before 31 August" in sentence(answers, AS_OF)


def test_a_forecast_inside_a_wait_is_blocked_and_stays_where_it_is() -> None:
    events = [event("A1", day=date(2026, 8, 26)), event("A2", day=date(2026, 8, 26))]
    found = blocks(events, [withheld("A1", "wait", WAIT), withheld("A2", "clear", clash=False)])
    assert found == {("A1", 2026): Block("A1", UNTIL)}
    rows = by_tree(*events)
    marked = with_blocks(rows, found)
    assert [bool(row.blocked) for row in marked] == [True, False]
    assert [row.quantiles for row in marked] == [row.quantiles for row in rows]
    assert marked[0].blocked_until == UNTIL


def test_the_next_season_of_a_blocked_tree_is_not_blocked() -> None:
    events = [event("A1"), event("A1", season=2027, day=date(2027, 8, 26))]
    assert list(blocks(events, [withheld("A1", "wait", WAIT)])) == [("A1", 2026)]
    assert len(blocks(events, [withheld("A1", "unknown", LOST)])) == 2


def test_a_row_of_several_trees_is_blocked_as_long_as_its_longest_and_unknown_if_one_is() -> None:
    rows = windows([event("A1"), event("A2")], (), LATITUDES, AS_OF)
    some = with_blocks(rows, {("A1", 2026): Block("A1", UNTIL)})[0]
    assert not some.all_blocked
    both = {("A1", 2026): Block("A1", UNTIL), ("A2", 2026): Block("A2", None)}
    row = with_blocks(rows, both)[0]
    assert row.all_blocked
    assert row.blocked_until is None


def test_what_is_picked_already_is_blocked_no_more() -> None:
    rows = by_tree(
        event(status="observed", day=date(2026, 7, 2)),
        event(event="last pick", status="observed", day=date(2026, 7, 9)),
    )
    assert with_blocks(rows, {("A1", 2026): Block("A1", UNTIL)})[0].blocked == ()


def test_trees_with_ripe_fruit_come_first_and_those_picked_too_soon_stay_in_sight() -> None:
    answers = [
        withheld("A1", "clear", picked=(inside(),)),
        withheld("A2", "wait", WAIT, clash=False),
        withheld("A3", "unknown", LOST),
        withheld("A4", "clear"),
    ]
    trees = held_trees(answers, by_tree(event("A3")))
    assert [tree.answer.tree for tree in trees] == ["A3", "A2", "A1"]
    assert trees[0].window is not None
    assert trees[2].picked_inside == (date(2026, 8, 10),)
    assert [period.end for period in trees[2].periods] == [UNTIL]
    assert list(grouped(trees)) == [("Invented reason.",)]
    assert sum(len(found) for found in told_clear(answers).values()) == 2


def test_picks_made_too_soon_are_told_for_certain_ones_first_with_what_to_do() -> None:
    certain, unsure = too_soon(
        [withheld("A1", "unknown", LOST, picked=(inside(used=LOST), inside())), withheld("A2")]
    )
    assert (certain.known, unsure.known) == (True, False)
    for found in (certain, unsure):
        assert "o not eat, give away or sell this fruit" in found.says
        assert found.picks == (("A1", date(2026, 8, 10)),)
        assert found.may_be_kept(date(2027, 8, 10))
        assert not found.may_be_kept(date(2027, 8, 11))


def test_the_picture_hatches_from_the_first_ripe_day_to_the_earliest_pick() -> None:
    trees = held_trees([withheld("A1", "wait", WAIT)], by_tree(event("A1", day=date(2026, 8, 26))))
    figure = withholding_figure(trees, AS_OF)
    hatched = next(bar for bar in figure.data if bar.name == texts.KEY_BLOCKED)
    assert hatched.base[0] == date(2026, 8, 19)  # seven days before the middle: 10 %
    assert hatched.x[0] == (UNTIL - date(2026, 8, 19)).days * style.DAY_MS
    assert hatched.marker.pattern.shape == "/"
    wait = next(bar for bar in figure.data if bar.name == held_texts.KEY_WAIT)
    assert (wait.base[0], wait.x[0]) == (SPRAYED, 28 * style.DAY_MS)
    assert any("not before 31 Aug" in str(trace.text) for trace in figure.data)


def test_the_wait_for_an_unread_label_has_no_end_in_the_picture() -> None:
    trees = held_trees([withheld("A1", "unknown", LOST)], by_tree(event("A1")))
    figure = withholding_figure(trees, AS_OF)
    wait = next(bar for bar in figure.data if bar.name == held_texts.KEY_UNREAD)
    end = figure.layout.xaxis.range[1]
    assert wait.base[0] + timedelta(milliseconds=wait.x[0]) == end
    assert any(texts.BLOCKED_UNKNOWN in str(trace.text) for trace in figure.data)
    hatched = next(bar for bar in figure.data if bar.name == texts.KEY_BLOCKED)
    assert hatched.x[0] == 15 * style.DAY_MS  # the whole 80 % range, both ends included


def test_a_pick_inside_a_wait_is_a_cross_of_its_own() -> None:
    trees = held_trees([withheld("A1", "clear", picked=(inside(),))], ())
    crosses = [
        t for t in withholding_figure(trees, AS_OF).data if t.name == held_texts.KEY_TOO_SOON
    ]
    assert len(crosses[0].x) == 1
    assert crosses[0].marker.color == style.HARM


def test_the_table_never_gives_a_date_for_an_unread_label() -> None:
    rows = table_rows([withheld("A1", "clear"), withheld("A2", "unknown", LOST, WAIT)])
    assert rows[0]["tree"] == "A2"
    assert rows[0]["earliest"] == "unknown: read the label"
    assert rows[0]["because"] == (
        "Invented soap, 2026-08-05, days not logged; Invented dust, 2026-08-03, 28 days"
    )


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_product_in_a_sentence_stays_short_and_plain(name: str) -> None:
    said = readable(picked_unknown(name, SPRAYED), [name])
    assert "\u202e" not in said
    assert "\x07" not in said
    assert max(map(len, said.split())) <= 42
    assert said.endswith("ask the product's maker or the local authority.")


def test_the_page_has_every_caution_word_for_word_and_once(demo: Orchard) -> None:
    client = Client(app_of(demo))
    for search in ("", "?cultivar=Unheard+Of", "?as_of=2026-03-20"):
        said = all_text(client.page("/may-i-pick", search))
        for caution in SPRAY_CAUTIONS:
            assert said.count(caution) == 1, (search, caution)


def test_the_demo_has_a_wait_and_lost_labels(demo: Orchard) -> None:
    page = Client(app_of(demo)).page("/may-i-pick")
    said = all_text(find(page, "answer"))
    assert "5 of 57 trees may not be picked on 12 August 2026" in said
    assert "Q3-01 not before 31 August (Moth spray C of 3 August)" in said
    assert "Q2-06 unknown: read the label (Fruit rot spray E of 5 August)" in said
    assert "label lost" not in said


def test_the_picking_page_marks_what_is_blocked_and_leads_to_the_reasons(demo: Orchard) -> None:
    page = Client(app_of(demo)).page("/picking", "?rows=trees&site=Quernwell")
    said = all_text(page)
    assert "Q2-06 Bartlett (unknown: read the label)" in said
    assert "Q3-01 Gala (not before 31 August)" in said or "and 1 more" in said
    assert texts.BLOCKED_SHORT_UNKNOWN in said
    assert "may-i-pick?site=Quernwell" in str(page)
    figure = find(page, "picture-0")["props"]["figure"]
    hatched = next(trace for trace in figure["data"] if trace.get("name") == "blocked")
    assert len(hatched["y"]) >= 5
    rows = find(page, "table-picking")["props"]["rowData"]
    blocked = {row["name"]: row["blocked"] for row in rows if row["blocked"]}
    assert blocked["Q3-01"] == "Q3-01: 2026-08-31"
    assert blocked["Q2-06"] == "Q2-06: unknown: read the label"
