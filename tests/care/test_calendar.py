"""The year's calendar: windows from forecasts, marks, both hemispheres, the file, this week."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvest.care.at_picking import at_picking
from harvest.care.calendar_file import calendar_text
from harvest.care.calendar_items import CalendarItem, not_dated, rule_items
from harvest.care.calendar_marks import CalendarMark, added_mark, find_item, marked
from harvest.care.calendar_rules import kinds_of, rules_from
from harvest.care.crop_due import CropDue, crop_items
from harvest.care.outlook import UNKNOWN, DateOutlook, TreeSeason, around, seen_on
from harvest.care.spells import dry_spell, frost_nights, kill_at
from harvest.care.week import LATE, LATE_DAYS, week_tasks
from harvest.errors import InputError
from harvest.seasons import season_start
from harvest.store.reference import calendar_table, frost_kill_table, species_table
from tests.care.strict_calendar import read_calendar
from tests.care.weather_made import site_days

RULES = rules_from(calendar_table())
KINDS = kinds_of(species_table(), frost_kill_table())
GROWN = sorted(species_table()["species"])
TODAY = date(2026, 3, 1)


def tree(
    species: str, bloom_day: int, ripe_days: int, latitude: float, leaf: int = 8
) -> TreeSeason:
    bloom = season_start(2026, latitude) + timedelta(days=bloom_day - 1)
    ripe = bloom + timedelta(days=ripe_days)
    return TreeSeason(
        "T", "Home", species, "Any", 2026, latitude, leaf,
        around(bloom, 5.0), around(ripe, 8.0), around(ripe + timedelta(days=14), 9.0),
    )  # fmt: skip


def items_of(*trees: TreeSeason) -> list[CalendarItem]:
    return rule_items(RULES, trees, KINDS)


@given(
    st.sampled_from(GROWN), st.integers(20, 200), st.integers(45, 220), st.integers(1, 12),
    st.floats(1, 65),
)  # fmt: skip
def test_the_south_gets_the_northern_calendar_half_a_year_away(
    species: str, bloom: int, ripe: int, leaf: int, latitude: float
) -> None:
    north = items_of(tree(species, bloom, ripe, latitude, leaf))
    south = items_of(tree(species, bloom, ripe, -latitude, leaf))
    shift = season_start(2026, -1.0) - season_start(2026, 1.0)  # 1 July before 1 January
    assert shift == timedelta(days=-184)
    days = [(i.item, i.first_day + shift, i.last_day + shift, i.earliest + shift,
             i.latest + shift) for i in north]  # fmt: skip
    assert days == [(i.item, i.first_day, i.last_day, i.earliest, i.latest) for i in south]
    assert [i.uid for i in north] == [i.uid for i in south]


def test_seasons_of_work_fall_where_the_trade_has_them() -> None:
    """Common practice, no source: planting dormant to the end of spring, pruning in winter."""
    for latitude, months in ((47.0, {11, 12, 1, 2, 3, 4, 5}), (-38.0, {5, 6, 7, 8, 9, 10, 11})):
        found = {item.item: item for item in items_of(tree("apple", 120, 140, latitude))}
        planting = found["planting"]
        assert {planting.first_day.month, planting.last_day.month} <= months
        assert (planting.last_day - planting.first_day).days > 150
        pruning = found["winter pruning"]
        assert pruning.first_day.month in ({12, 1} if latitude > 0 else {6, 7})
        assert found["leaf fall care"].first_day.month == (11 if latitude > 0 else 5)
    assert "winter pruning" not in {i.item for i in items_of(tree("peach", 100, 120, 47.0))}


def test_a_week_before_the_first_flowers_comes_before_the_flowers() -> None:
    found = {item.item: item for item in items_of(tree("apple", 120, 140, 47.0))}
    bloom = date(2026, 4, 30)
    assert (bloom - found["before bloom"].first_day).days == 12  # 5 days to full bloom, 7 before
    assert found["before bloom"].last_day == bloom - timedelta(days=5)
    assert found["bees"].first_day < bloom < found["bees"].last_day


def test_an_early_forecast_moves_the_work_with_it() -> None:
    early = {i.item: i for i in items_of(tree("apple", 110, 140, 47.0))}
    late = {i.item: i for i in items_of(tree("apple", 120, 140, 47.0))}
    for name in ("thinning", "bees", "picking", "frost watch"):
        assert late[name].first_day - early[name].first_day == timedelta(days=10)
    assert late["planting"].first_day == early["planting"].first_day


def test_windows_are_wider_than_the_likeliest_days_by_their_uncertainty() -> None:
    found = {item.item: item for item in items_of(tree("apple", 120, 140, 47.0))}
    for item in found.values():
        assert item.earliest <= item.first_day <= item.last_day <= item.latest
    # 8 in 10 of a normal date with 8 days: 1.2816 standard deviations, 10 days.
    assert (found["picking"].first_day - found["picking"].earliest).days == 10


def test_young_trees_are_staked_and_watered_and_not_thinned() -> None:
    young = {item.item for item in items_of(tree("apple", 120, 140, 47.0, leaf=1))}
    grown = {item.item for item in items_of(tree("apple", 120, 140, 47.0, leaf=8))}
    assert {"stake check", "watering"} <= young
    assert "thinning" not in young
    assert "thinning" in grown
    assert not {"stake check", "watering"} & grown


def test_a_tree_with_its_own_thinning_advice_is_not_told_twice() -> None:
    young = tree("apple", 120, 140, 47.0, leaf=3)
    told = rule_items(RULES, [young], KINDS, frozenset({("T", 2026)}))
    assert "thinning" not in {item.item for item in told}
    assert "thinning" in {item.item for item in items_of(young)}


def test_a_last_pick_that_nobody_logged_is_not_waited_for_all_winter() -> None:
    ripe = seen_on(date(2026, 8, 2))
    never = around(date(2027, 3, 13), 5.0)
    peach = replace(tree("peach", 100, 120, 47.0), ripe=ripe, last_pick=never)
    picking = next(item for item in items_of(peach) if item.item == "picking")
    most = species_table().set_index("species")["picking_window_days_high"]["peach"]
    assert picking.last_day == date(2026, 8, 2) + timedelta(days=2 * int(most))


def test_species_that_are_not_thinned_or_not_in_the_frost_table_are_left_out() -> None:
    cherry = {item.item for item in items_of(tree("sweet cherry", 110, 60, 47.0))}
    assert "thinning" not in cherry
    assert "frost watch" in cherry
    assert "frost watch" not in {i.item for i in items_of(tree("quince", 130, 150, 47.0))}


def test_where_no_date_is_known_there_is_no_window() -> None:
    unknown = replace(tree("apple", 120, 140, 47.0), ripe=UNKNOWN, last_pick=UNKNOWN)
    names = {item.item for item in items_of(unknown)}
    assert not {"picking", "maturity test", "storage check"} & names
    assert "bees" in names


def test_common_practice_says_so_and_no_source_is_blank() -> None:
    for rule in RULES:
        assert rule.source
        assert "common practice, no source" in rule.source or re.search(
            r"Extension|from memory|data/reference", rule.source
        )


def test_done_moved_off_and_added() -> None:
    items = items_of(tree("apple", 120, 140, 47.0))
    bees = next(item for item in items if item.item == "bees")
    day = date(2026, 5, 2)
    marks = [
        CalendarMark("done", bees.uid, TODAY),
        CalendarMark("moved", bees.uid, TODAY, first_day=day, last_day=day),
        CalendarMark("off", "frost watch", TODAY),
        CalendarMark("off", "planting@elsewhere", TODAY),
    ]
    found = {item.item: item for item in marked(items, marks)}
    assert (found["bees"].status, found["bees"].first_day, found["bees"].moved) == (
        "done", day, True,
    )  # fmt: skip
    assert "frost watch" not in found
    assert "planting" in found
    assert len(found) == len({item.item for item in items}) - 1


def test_codes_find_one_item_or_say_why_not() -> None:
    items = items_of(tree("apple", 120, 140, 47.0))
    assert find_item(items, items[0].code) == items[0]
    with pytest.raises(InputError, match="fits none"):
        find_item(items, "zzzz")
    with pytest.raises(InputError, match="first"):
        added_mark("Home", "x", (date(2026, 5, 2), date(2026, 5, 1)), why=None, on=TODAY)


def test_the_calendar_file_keeps_the_rules_of_rfc_5545() -> None:
    items = items_of(tree("apple", 120, 140, 47.0), tree("peach", 100, 120, -38.0))
    odd = replace(items[0], title="Ünïcode; comma, back\\slash 🍎" * 6, todo="line\none")
    events = read_calendar(calendar_text([odd, *items[1:]], "Home; test", TODAY))
    assert len(events) == len(items)
    assert events[0]["SUMMARY"].startswith("Ünïcode; comma, back\\slash 🍎")
    assert len({event["UID"] for event in events}) == len(items)
    for event, item in zip(events, items, strict=True):
        assert event["DTSTART"] == f"{item.first_day:%Y%m%d}"
        assert event["DTEND"] == f"{item.last_day + timedelta(days=1):%Y%m%d}"


def test_taking_a_later_file_in_updates_and_does_not_double() -> None:
    first = read_calendar(calendar_text(items_of(tree("apple", 120, 140, 47.0)), "x", TODAY))
    again = read_calendar(
        calendar_text(items_of(tree("apple", 127, 135, 47.0)), "x", TODAY + timedelta(days=9))
    )
    assert [e["UID"] for e in sorted(first, key=lambda e: e["UID"])] == [
        e["UID"] for e in sorted(again, key=lambda e: e["UID"])
    ]
    assert int(again[0]["SEQUENCE"]) > int(first[0]["SEQUENCE"])


def test_what_is_no_longer_asked_for_goes_out_as_cancelled() -> None:
    """RFC 5545: 3.8.1.11 STATUS CANCELLED; 3.8.7.4 SEQUENCE; the UID says which event it is."""
    from icalendar import Calendar

    items = items_of(tree("apple", 120, 140, 47.0))
    before = {e["UID"]: e for e in read_calendar(calendar_text(items, "x", TODAY, 3))}
    text = calendar_text(items[1:], "x", TODAY, 4, cancelled=items[:1])
    after = {e["UID"]: e for e in read_calendar(text)}
    assert after.keys() == before.keys()
    assert {uid for uid, e in after.items() if e["STATUS"] == "CANCELLED"} == {items[0].uid}
    assert all(int(after[uid]["SEQUENCE"]) > int(e["SEQUENCE"]) for uid, e in before.items())
    read = {str(e["UID"]): e for e in Calendar.from_ical(text).walk("VEVENT")}
    assert read[items[0].uid]["STATUS"] == "CANCELLED"
    assert read[items[0].uid].decoded("dtstart") == items[0].first_day


def test_the_general_library_reads_the_file_as_all_day_windows() -> None:
    from icalendar import Calendar

    text = calendar_text(items_of(tree("apple", 120, 140, 47.0)), "Home", TODAY)
    for event in Calendar.from_ical(text).walk("VEVENT"):
        assert type(event.decoded("dtstart")) is date
        assert event.decoded("dtend") > event.decoded("dtstart")


def test_dry_days_come_from_the_forecast_else_the_record_else_unknown() -> None:
    first, last = date(2026, 1, 10), date(2026, 2, 10)
    wet = site_days(date(2026, 1, 10), [5.0] * 10)
    dry = site_days(date(2026, 1, 10), [5.0, 5.0, 0.0, 0.9, 0.0, 5.0])
    assert "12 Jan 2026 to 14 Jan 2026" in dry_spell(first, last, None, dry).says
    assert "unknown without a forecast" in dry_spell(first, last, None, None).says
    # Rain on every day but those from the 20th of January to the 2nd of February.
    start = date(2020, 1, 1)
    rain = [
        0.0 if (1, 20) <= ((d := start + timedelta(days=n)).month, d.day) <= (2, 2) else 5.0
        for n in range((date(2026, 1, 10) - start).days)
    ]
    usual = dry_spell(first, last, site_days(start, rain), wet).says
    assert "No dry spell is forecast" in usual
    assert "24 Jan 2026: 100 %" in usual


def test_frost_ahead_is_told_against_the_stage_and_cannot_wait() -> None:
    kill = kill_at(frost_kill_table(), "apple", 65)
    assert kill is not None
    assert kill.kill10_c == pytest.approx(-2.2, abs=0.05)  # WSU EB0913: full bloom 28 F
    ahead = site_days(date(2026, 4, 28), [0.0] * 4, tmin=[3.0, -2.5, -1.0, 2.0])
    notes = frost_nights(date(2026, 4, 28), date(2026, 5, 1), kill, None, ahead)
    assert [note.now for note in notes] == [False, True, True]
    assert "at or below" in notes[1].says
    assert "above" in notes[2].says
    unknown = frost_nights(date(2026, 4, 28), date(2026, 5, 1), kill, None, None)
    assert "unknown" in unknown[-1].says


def test_what_cannot_wait_comes_first_and_done_work_is_gone() -> None:
    items = items_of(tree("apple", 120, 140, 47.0))
    bees = next(item for item in items if item.item == "bees")
    as_of = bees.last_day - timedelta(days=2)
    tasks = week_tasks(marked(items, [CalendarMark("done", bees.uid, TODAY)]), [], as_of)
    assert [task.rank for task in tasks] == sorted(task.rank for task in tasks)
    assert "frost watch" in {items_by_code(items, task.code).item for task in tasks}
    assert bees.code not in {task.code for task in tasks}


def test_fruit_still_to_come_off_is_asked_for_after_its_last_day() -> None:
    last = date(2026, 6, 10)
    due = CropDue("T", "Home", "apple", "Any", 2026, 47.0, True, None, last, "Young.", ("none",))
    (item,) = crop_items([due])
    (task,) = week_tasks([item], [], last)
    assert (task.by, task.overdue) == (last, False)
    (task,) = week_tasks([item], [], last + timedelta(days=LATE_DAYS))
    assert (task.by, task.overdue, LATE in task.says) == (last, True, True)
    assert week_tasks([item], [], last + timedelta(days=LATE_DAYS + 1)) == []
    done = marked([item], [CalendarMark("done", item.uid, TODAY)])
    assert week_tasks(done, [], last + timedelta(days=1)) == []


def items_by_code(items: list[CalendarItem], code: str | None) -> CalendarItem:
    return next(item for item in items if item.code == code)


def test_every_species_has_its_signs_and_the_cautions_of_picking() -> None:
    advice = at_picking(species_table())
    assert set(advice) == set(GROWN)
    for each in advice.values():
        assert each.signs
        assert "clean secateurs" in each.how
        assert "common practice, no source" in each.how
        assert len(each.cautions) == 3
    assert advice["apple"].keeps == "Keeps 4 to 30 weeks at 0 to 4 °C, by cultivar."


def test_what_has_no_date_is_told_with_the_reason_and_not_left_out_in_silence() -> None:
    known = tree("apple", 120, 140, 47.0)
    lost = replace(known, tree="Lost", ripe=DateOutlook("unknown", why_unknown=("No pick.",)))
    bare = replace(known, tree="Bare", bloom=UNKNOWN, ripe=UNKNOWN)
    gone = replace(bare, tree="Gone", fruit_gone=True)
    assert not_dated([known, lost, bare, gone]) == [
        "Home: picking, testing and storing of Lost: No pick.",
        "Home: all that goes by bloom of Bare: No date can be told.",
    ]
