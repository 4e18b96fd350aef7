"""The commands of care, as a user starts them, on the demo orchard."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

from icalendar import Calendar

from harvest.care import texts
from tests.care.strict_calendar import read_calendar
from tests.cli.conftest import Harvest

WITHHOLDING_KEYS = {"tree", "status", "earliest_pick", "because", "clashes_with_forecast"}


def test_withholding_as_json_keeps_its_contract(harvest: Harvest, demo: Path) -> None:
    said = harvest("--orchard", demo, "withholding", "--as-of", "2026-08-12", "--format", "json")
    assert said.code == 0
    rows = {row["tree"]: row for row in json.loads(said.out)}
    for row in rows.values():
        assert row.keys() >= WITHHOLDING_KEYS
        assert row["status"] in ("clear", "wait", "unknown")
        assert row["cautions"] == list(texts.SPRAY_CAUTIONS)
        if row["status"] == "clear":
            assert any("by the labels logged here; read the label" in text for text in row["says"])
        for each in row["because"]:
            assert each.keys() >= {"product", "date", "withholding_days"}
    assert rows["Q3-01"]["earliest_pick"] == "2026-08-31"
    assert rows["Q2-06"]["status"] == "unknown"
    assert rows["Q2-06"]["earliest_pick"] is None


def test_withholding_in_words_carries_every_caution_once(harvest: Harvest, demo: Path) -> None:
    said = harvest("--orchard", demo, "withholding", "--as-of", "2026-08-12")
    assert said.code == 0
    for text in texts.SPRAY_CAUTIONS:
        assert said.out.count(text) == 1
    assert "Do not pick before 31 Aug 2026" in said.out
    assert texts.CLEAR in said.out


def test_the_last_day_to_spray_wants_the_days_from_the_label(harvest: Harvest, demo: Path) -> None:
    half = harvest("--orchard", demo, "withholding", "--product", "Soap")
    assert half.code == 1
    assert "Read the days on the product's label" in half.err
    said = harvest(
        "--orchard", demo, "withholding", "--product", "Soap", "--label-days", 14,
        "--tree", "q3-04", "--format", "json",
    )  # fmt: skip
    rows = json.loads(said.out)
    assert [row["chance_ripe_before_end"] for row in rows] == [0.05, 0.1, 0.25, 0.5]
    days = [date.fromisoformat(row["last_day"]) for row in rows]
    assert days == sorted(days)


def test_the_calendar_lists_both_sites_and_marks_are_kept(harvest: Harvest, demo: Path) -> None:
    ask = ("--orchard", demo, "calendar", "--format", "json")
    items = json.loads(harvest(*ask).out)
    assert {item["site"] for item in items} == {"Quernwell", "Saltpan Reach"}
    code = items[0]["code"]
    assert harvest("--orchard", demo, "calendar", "done", code).code == 0
    assert harvest("--orchard", demo, "calendar", "off", "frost watch").code == 0
    assert harvest("--orchard", demo, "calendar", "add", "Quernwell", "Mow", "2026-08-20").code == 0
    moved = next(item for item in items if item["item"] == "picking")
    to = ("2026-08-30", "2026-09-02")
    assert harvest("--orchard", demo, "calendar", "move", moved["code"], *to).code == 0
    after = {item["uid"]: item for item in json.loads(harvest(*ask).out)}
    assert after[items[0]["uid"]]["status"] == "done"
    assert "frost watch" not in {item["item"] for item in after.values()}
    assert "Mow" in {item["title"] for item in after.values()}
    assert after[moved["uid"]]["first_day"] == "2026-08-30"
    assert harvest("--orchard", demo, "calendar", "on", "frost watch").code == 0
    again = json.loads(harvest(*ask).out)
    assert "frost watch" in {item["item"] for item in again}


def test_all_of_one_item_is_told_by_its_code(harvest: Harvest, demo: Path) -> None:
    listed = json.loads(harvest("--orchard", demo, "calendar", "--format", "json").out)
    item = next(each for each in listed if each["item"] == "frost watch")
    told = harvest("--orchard", demo, "calendar", "why", item["code"]).out
    parts = (item["title"], item["site"], item["why"], item["source"], "8 in 10: between")
    for part in (*parts, *item["trees"], *item["cautions"]):
        assert part in told


def test_a_later_file_moves_and_cancels_what_an_earlier_one_held(
    harvest: Harvest, demo: Path, tmp_path: Path
) -> None:
    """RFC 5545, 3.8.7.4: a revision has a greater sequence number; 3.8.1.11: what is switched off,
    or was for a tree that is gone, is cancelled under the same UID."""
    listed = json.loads(harvest("--orchard", demo, "calendar", "--format", "json").out)
    uid, code = listed[-1]["uid"], listed[-1]["code"]
    files = []
    for name in ("before.ics", "after.ics"):
        harvest("--orchard", demo, "calendar", "--ics", tmp_path / name)
        files.append({e["UID"]: e for e in read_calendar((tmp_path / name).read_bytes())})
        harvest("--orchard", demo, "calendar", "move", code, "2026-12-24", "2026-12-26")
        harvest("--orchard", demo, "calendar", "off", "bud watch", "--site", "Saltpan Reach")
        harvest("--orchard", demo, "correct", "tree", "S2-01", "removed=2026-08-12")
    before, after = files
    assert before.keys() == after.keys()
    assert all(int(after[each]["SEQUENCE"]) > int(e["SEQUENCE"]) for each, e in before.items())
    assert (after[uid]["DTSTART"], after[uid]["DTEND"]) == ("20261224", "20261227")
    buds = {e["UID"] for e in before.values() if (e["CATEGORIES"], e["LOCATION"]) == (
        "bud watch", "Saltpan Reach")}  # fmt: skip
    peach = {e["UID"] for e in before.values() if e["SUMMARY"].endswith(": peach Elberta")}
    assert buds
    assert peach
    assert {each for each, e in after.items() if e["STATUS"] == "CANCELLED"} == buds | peach


def test_an_own_item_that_was_undone_is_cancelled_until_it_stands_again(
    harvest: Harvest, tmp_path: Path
) -> None:
    """RFC 5545, 3.8.1.11 and 3.8.7.4: a calendar that took it over lets it go, and takes it back
    when the undoing is undone. Read by the text of the standard and by a general library."""
    file, ask = tmp_path / "year.ics", ("--orchard", tmp_path / "small.sqlite")
    sites = tmp_path / "sites.csv"
    sites.write_text("site,latitude,longitude\nHome,-41.3,174.8\n", encoding="utf-8")
    harvest(*ask, "init")
    harvest(*ask, "import", "sites", sites)
    on = ("--as-of", "2026-08-12")
    harvest(*ask, "calendar", "add", "Home", "Net the cherries", "2026-08-20", *on)
    heat = ("--degree-days", 90, "--base", 10, "--from", "2026-07-01")
    number = int(harvest(*ask, "calendar", "add", "Home", "Look", *heat, *on).out.split()[-1][:-1])
    assert "Unknown, Home: Look: No weather" in harvest(*ask, "calendar", "--site", "home").out
    assert "Unknown, Home" not in harvest(*ask, "calendar", "--site", "Hom").out
    harvest(*ask, "undo", "--import", number)

    def state(day: str = "2026-08-12") -> list[tuple[str, str, int]]:
        harvest(*ask, "calendar", "--ics", file, "--as-of", day)
        read_calendar(file.read_bytes())
        events = Calendar.from_ical(file.read_bytes()).walk("VEVENT")
        return [(str(e["UID"]), str(e["STATUS"]), int(e["SEQUENCE"])) for e in events]

    ((uid, *stood),) = state()
    harvest(*ask, "undo")
    assert state() == [(uid, "CANCELLED", int(stood[1]) + 1)]
    assert [status for _, status, _ in state("2026-08-27")] == ["CANCELLED"]
    assert state("2026-08-28") == []  # a week after its last day, as other items
    harvest(*ask, "undo", "--import", number + 2)
    assert state() == [(uid, "CONFIRMED", int(stood[1]) + 2)]


def test_a_file_of_one_tree_has_its_items_only(
    harvest: Harvest, demo: Path, tmp_path: Path
) -> None:
    file = tmp_path / "one.ics"
    assert harvest("--orchard", demo, "calendar", "--tree", "q2-01", "--ics", file).code == 0
    events = read_calendar(file.read_bytes())
    assert events
    assert all("Q2-01" in event["DESCRIPTION"] for event in events)


def test_a_code_that_fits_nothing_is_said(harvest: Harvest, demo: Path) -> None:
    said = harvest("--orchard", demo, "calendar", "done", "nothing")
    assert said.code == 1
    assert "fits none" in said.err
    said = harvest("--orchard", demo, "calendar", "add", "Nowhere", "Mow", "2026-08-20")
    assert said.code == 1
    assert "known site" in said.err
    said = harvest("--orchard", demo, "calendar", "add", "Quernwell", "Look", "--degree-days", 99)
    assert said.code == 1
    assert "all of --degree-days, --base and --from" in said.err


def test_the_calendar_file_is_written_and_read_by_the_rules(
    harvest: Harvest, demo: Path, tmp_path: Path
) -> None:
    path = tmp_path / "year.ics"
    assert harvest("--orchard", demo, "calendar", "--ics", path).code == 0
    first = read_calendar(path.read_bytes())
    assert len(first) > 100
    assert harvest("--orchard", demo, "calendar", "--ics", path, "--as-of", "2026-08-11").code == 0
    earlier = read_calendar(path.read_bytes())
    shared = {event["UID"] for event in first} & {event["UID"] for event in earlier}
    assert len(shared) > 0.9 * len(first)


def test_this_week_says_first_what_can_hurt(harvest: Harvest, demo: Path) -> None:
    tasks = json.loads(harvest("--orchard", demo, "week", "--format", "json").out)
    assert tasks[0]["rank"] == 0
    assert tasks[0]["title"] == "Do not pick"
    said = harvest("--orchard", demo, "week")
    assert said.code == 0
    assert texts.LABEL_IS_LAW in said.out
    assert texts.LADDER in said.out


def test_pollination_tells_verdict_partners_and_bees(harvest: Harvest, demo: Path) -> None:
    rows = json.loads(harvest("--orchard", demo, "pollination", "--format", "json").out)
    assert {row["verdict"] for row in rows} >= {
        "no partner needed", "partner in bloom", "unknown"
    }  # fmt: skip
    said = harvest("--orchard", demo, "pollination", "--tree", "Q2-05")
    assert said.code == 0
    assert "not viable" in said.out
    assert "were calm as well (mean wind of the day at most 24 km/h" in said.out


def test_climate_fit_ranks_and_tells_how_sure(harvest: Harvest, demo: Path) -> None:
    ask = ("--orchard", demo, "climate-fit", "--site", "Quernwell")
    rows = json.loads(harvest(*ask, "--species", "pear, european", "--format", "json").out or "[]")
    assert rows == []  # the name is refused, see below
    rows = json.loads(harvest(*ask, "--species", "european pear", "--format", "json").out)
    assert {row["species"] for row in rows} == {"european pear"}
    one = harvest(*ask, "--species", "apple", "--cultivar", "Gala")
    assert one.code == 0
    assert "Fewer than 30 years" in one.out
    assert "Source, Chill" in one.out
    assert "no promise" in one.out
    gaps = harvest(*ask, "--gaps")
    assert gaps.code == 0
    assert "nothing at Quernwell is picked" in gaps.out


def test_climate_fit_wants_a_place(harvest: Harvest, demo: Path) -> None:
    said = harvest("--orchard", demo, "climate-fit")
    assert said.code == 1
    assert "a place is needed" in said.err
    far = ("--lat", 89, "--lon", 0, "--weather-site", "Quernwell")
    assert harvest("--orchard", demo, "climate-fit", *far).code == 1


def test_fruit_picked_too_soon_is_told_when_pick_or_spray_is_logged(
    harvest: Harvest, demo: Path
) -> None:
    day = "2026-08-10"
    spray = ("--withholding", "14", "--date", "2026-08-05")
    told = "inside the withholding period: Soap of 5 Aug 2026 asks for 14 days"
    assert told not in harvest("--orchard", demo, "log", "spray", "Q3-04", "Soap", *spray).out
    picked = harvest("--orchard", demo, "log", "pick", "Q3-04", "3kg", "--date", day)
    assert f"Q3-04: Picked on 10 Aug 2026, {told}" in picked.out
    assert texts.WHAT_TO_DO in picked.out
    # The other way round: the pick is on record, the spray is logged late.
    assert harvest("--orchard", demo, "log", "pick", "Q2-04", "3kg", "--date", day).code == 0
    late = harvest("--orchard", demo, "log", "spray", "Q2-04", "Soap", *spray)
    assert f"Q2-04: Picked on 10 Aug 2026, {told}" in late.out
    as_json = harvest("--orchard", demo, "log", "pick", "Q2-04", "1kg", "--date", "2026-08-11",
                      "--format", "json")  # fmt: skip
    assert json.loads(as_json.out)
    assert told in as_json.err
