"""`harvest log`: few words, no guesses, a way back."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from harvest.store.history_reading import read_batches
from harvest.store.orchard import Orchard, open_orchard
from harvest.store.reading import read_kind
from tests.cli.conftest import Harvest, Said
from tests.orchards import plant, put

TREES = [
    {"tree": "Old Pearmain 3", "site": "Home", "species": "apple", "cultivar": "own seedling"},
    {"tree": "Old Pearmain 30", "site": "Home", "species": "apple", "cultivar": "own seedling"},
    {"tree": "Wall pear", "site": "Home", "species": "pear", "cultivar": "Williams"},
    {"tree": "Gate pear", "site": "Home", "species": "pear", "cultivar": "Bartlett"},
    {"tree": "Peach", "site": "Plains", "species": "peach", "cultivar": "own seedling"},
    {"tree": "Felled pear", "site": "Home", "species": "pear", "cultivar": "Williams",
     "removed": "2020-01-01"},
]  # fmt: skip


@pytest.fixture
def planted(address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Orchard]:
    monkeypatch.setenv("HARVEST_WHO", "Ada")
    orchard = open_orchard(address)
    plant(orchard, tmp_path, [{"removed": "", **tree} for tree in TREES])
    yield orchard
    orchard.engine.dispose()


@pytest.fixture
def say(harvest: Harvest, planted: Orchard, address: str) -> Harvest:
    def run(*words: object) -> Said:
        return harvest("--orchard", address, "log", *words)

    return run


def logged(orchard: Orchard, kind: str) -> list[dict[str, object]]:
    with orchard.reading() as connection:
        return read_kind(connection, kind).to_dict("records")


def latest_day() -> date:
    """Today at the eastmost site of the orchard, by the sun: 150.8 degrees east."""
    return (datetime.now(UTC) + timedelta(hours=150.8 / 15)).date()


def test_today_is_the_day_where_the_tree_stands(
    say: Harvest, planted: Orchard, tmp_path: Path
) -> None:
    """It is never the same date at UTC+14 and UTC-11 (tz database: Kiritimati, Pago Pago)."""
    zones = {"East": "Pacific/Kiritimati", "West": "Pacific/Pago_Pago"}
    sites = [
        {"site": site, "latitude": -10, "longitude": 0, "timezone": zone}
        for site, zone in zones.items()
    ]
    trees = [
        {"tree": f"{site} tree", "site": site, "species": "fig", "cultivar": f"own of {site}",
         "planted": "2015-01-15"}
        for site in zones
    ]  # fmt: skip
    put(planted, "sites", sites, tmp_path)
    put(planted, "trees", trees, tmp_path)
    for site in zones:
        say("stage", f"{site} tree", "87")
        say("stage", "--all-of", f"own of {site}", "81", "--date", "yesterday")
        say("event", "wind", "--site", site)
    for kind, back in (("stages", {87: 0, 81: 1}), ("events", {})):
        rows = logged(planted, kind)
        assert len(rows) == (4 if back else 2)
        for row in rows:
            site = str(row["tree"] or row["site"]).split()[0]
            there = datetime.now(ZoneInfo(zones[site])).date()
            days = timedelta(days=back.get(row.get("bbch"), 0))  # type: ignore[call-overload]
            assert row["date"].date() == there - days  # type: ignore[attr-defined]


def test_a_pick_in_three_words(say: Harvest, planted: Orchard) -> None:
    said = say("pick", "Old Pearmain 3", "12.4kg")
    assert said.code == 0  # whether it looks odd hangs on the time of year
    (pick,) = logged(planted, "picks")
    assert (pick["tree"], pick["weight_kg"]) == ("Old Pearmain 3", 12.4)
    day = pick["date"].date()  # type: ignore[attr-defined]
    assert abs((day - latest_day()).days) <= 1
    assert f"Old Pearmain 3: pick of {day}, weight 12.4 kg." in said.out
    assert "1 logged. To take it back: harvest undo (change 3)." in said.out
    newest = read_batches(planted)[0]
    assert (newest.action, newest.who, newest.note) == ("log", "Ada", "picks: Old Pearmain 3")
    assert newest.at is not None


@pytest.mark.parametrize(
    ("part", "tree"),
    [
        ("old pearmain 3", "Old Pearmain 3"),
        ("pearmain 30", "Old Pearmain 30"),
        ("30", "Old Pearmain 30"),
        ("wall", "Wall pear"),
        ("PEAR gate", "Gate pear"),
        ("felled", "Felled pear"),
    ],
)
def test_a_part_of_a_name_that_fits_one_tree(
    say: Harvest, planted: Orchard, part: str, tree: str
) -> None:
    assert say("girth", part, "12.5cm", "--date", "2019-11-01").code == 0
    assert [row["tree"] for row in logged(planted, "girths")] == [tree]


def test_a_part_that_fits_several_lists_them_and_logs_nothing(
    say: Harvest, planted: Orchard
) -> None:
    said = say("pick", "pear", "3kg")
    assert said.code == 1
    assert "It fits: Gate pear, Old Pearmain 3, Old Pearmain 30, Wall pear." in said.err
    assert logged(planted, "picks") == []


def test_a_name_that_fits_none_lists_the_names_most_like_it(say: Harvest) -> None:
    said = say("pick", "Wahl pear", "3kg")
    assert said.code == 1
    assert "Did you mean 'Wall pear'" in said.err


@pytest.mark.parametrize("name", ["Williams", "bartlett", "williams' bon chretien"])
def test_all_standing_trees_of_a_cultivar_by_any_of_its_names(
    say: Harvest, planted: Orchard, name: str
) -> None:
    said = say("stage", "--all-of", name, "65", "--date", "2026-04-20")
    assert (said.code, said.err) == (0, "")
    rows = logged(planted, "stages")
    assert [(row["tree"], row["bbch"]) for row in rows] == [("Gate pear", 65), ("Wall pear", 65)]
    assert read_batches(planted)[0].counts[0].new == 2


def test_all_of_a_species(say: Harvest, planted: Orchard) -> None:
    assert say("thinning", "--all-of", "apple", "strip", "--date", "2026-06-01").code == 0
    assert len(logged(planted, "thinnings")) == 2


def test_all_of_a_row_and_of_which_sites_where_several_have_it(
    say: Harvest, planted: Orchard, tmp_path: Path
) -> None:
    names = ("Wall pear", "Gate pear", "Felled pear", "Peach")
    known = {str(tree["tree"]): tree for tree in TREES}
    rows = [
        {"removed": "", "planted": "2015-01-15", **known[name], "row": 3, "position": n}
        for n, name in enumerate(names, 1)
    ]
    put(planted, "trees", rows, tmp_path)
    spray = ("spray", "--all-of", "row 3", "Invented soap", "--withholding", "7",
             "--date", "2026-06-01")  # fmt: skip
    said = say(*spray)
    assert said.code == 1
    assert "row 3 of Home, row 3 of Plains" in said.err
    assert say("spray", "--all-of", "row 3 home", *spray[3:]).code == 0
    assert {row["tree"] for row in logged(planted, "sprays")} == {"Wall pear", "Gate pear"}
    assert "row 4" in say("spray", "--all-of", "row 4", *spray[3:]).err


def test_one_weight_is_not_written_to_several_trees_unasked(say: Harvest, planted: Orchard) -> None:
    said = say("pick", "--all-of", "Williams", "40kg", "--date", "2026-08-01")
    assert said.code == 1
    assert "40 kg for 2 trees: Gate pear, Wall pear" in said.err
    assert "how much each gave is not known" in said.err
    assert logged(planted, "picks") == []
    assert say("pick", "--all-of", "Williams", "40kg", "--each", "--date", "2026-08-01").code == 0
    assert [row["weight_kg"] for row in logged(planted, "picks")] == [40.0, 40.0]


def test_yesterday_and_any_day(say: Harvest, planted: Orchard) -> None:
    assert say("pick", "wall", "3kg").code == 0
    assert say("pick", "wall", "2kg", "--date", "yesterday").code == 0
    assert say("pick", "wall", "1kg", "--date", "2026-08-01").code == 0
    days = [row["date"].date() for row in logged(planted, "picks")]  # type: ignore[attr-defined]
    assert days[0] == date(2026, 8, 1)
    assert days[2] - days[1] == timedelta(days=1)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["pick", "wall", "12.4"], "a weight with its unit is needed; given: '12.4'"),
        (["pick", "wall", "1,250kg"], "Write 1.2500 for the decimals, 1250 for the thousands."),
        (["pick", "wall", "1.250kg"], "Write 1.2500 for the decimals, 1250 for the thousands."),
        (["pick", "wall", "3kg", "--fruit-count", "1.000"], "the point may be a decimal or"),
        (["pick", "wall", "3kg", "--date", "2999-01-01"], "years 1700 to 2200"),
        (["pick", "wall", "3kg", "--date", "2199-01-01"], "must not lie in the future"),
        (["pick", "wall", "3kg", "--date", "2014-01-01"], "before the tree was planted"),
        (["spray", "wall", "Soap", "--time", "six"], "a time of day is written HH:MM"),
        (["pick", "wall", "3kg", "--graded-out", "4kg"], "more was graded out than was picked"),
        (["pick", "wall", "3000kg"], "weight picked must lie between 0 and 2000 kg"),
        (["stage", "wall", "100"], "BBCH code must lie between 0 and 99"),
        (["stage", "wall", "6,5"], "not a whole number"),
        (["thinning", "wall", "prune"], "Use: strip, thin."),
        (["event", "wall", "hial"], "Use: frost, hail"),
        (["pick", "wall", "3kg", "--last", "perhaps"], "neither yes nor no"),
        (["spray", "--site", "Nowhere", "Soap"], "a known site is needed"),
    ],
)
def test_what_an_import_refuses_is_refused_here_with_what_to_do(
    say: Harvest, planted: Orchard, words: list[str], message: str
) -> None:
    said = say(*words)
    assert (said.code, said.out) == (1, "")
    assert message in said.err
    assert len(read_batches(planted)) == 2


@pytest.mark.parametrize("words", [["pick"], ["pick", "wall"], ["stage", "--all-of", "Williams"]])
def test_what_is_missing_is_a_usage_error_where_nobody_can_be_asked(
    say: Harvest, words: list[str]
) -> None:
    said = say(*words)
    assert (said.code, said.out) == (2, "")
    assert "is missing" in said.err


def test_what_is_on_record_is_not_overwritten_unasked(say: Harvest, planted: Orchard) -> None:
    day = ("--date", "2026-08-01")
    assert say("pick", "wall", "12.4kg", *day).code == 0
    again = say("pick", "wall", "12.4kg", *day)
    assert (again.code, again.out.splitlines()[-1]) == (
        0, "All of it was on record already; nothing was changed.")  # fmt: skip
    other = say("pick", "wall", "13kg", *day)
    assert other.code == 1
    assert "weight_kg 12.4 on record" in other.err
    assert "--pass 2" in other.err
    assert "--replace" in other.err
    assert say("pick", "wall", "13kg", "--pass", "2", *day).code == 0
    assert "1 corrected" in say("pick", "wall", "13.5kg", "--replace", *day).out
    assert sorted(float(str(row["weight_kg"])) for row in logged(planted, "picks")) == [13.0, 13.5]


def test_every_sort_with_its_options(say: Harvest, planted: Orchard) -> None:
    day = ("--date", "2026-08-01")
    for words in (
        ("pick", "wall", "5lb", "--fruit-count", "20", "--pass", "1", "--graded-out", "8oz",
         "--cause", "birds", "--last", "yes", "--brix", "12.5", "--firmness", "6.1kg",
         "--starch", "4", "--note", "wet"),
        ("stage", "wall", "full bloom", "--percent-open", "80", "--observer", "Ada"),
        ("thinning", "wall", "thin", "--fruit-removed", "40", "--fruit-left", "20"),
        ("girth", "wall", "5in"),
        ("spray", "wall", "Soap", "--withholding", "3", "--time", "6:30", "--rate", "5 g/l"),
        ("spray", "--site", "home", "Soap"),
        ("event", "wall", "no crop", "--severity", "3"),
        ("event", "--site", "home", "hail"),
    ):  # fmt: skip
        said = say(*words, *day)
        assert (said.code, said.err) == (0, ""), words
        assert ("label" in said.out) is (words[0] == "spray")
    (pick,) = logged(planted, "picks")
    assert pick["weight_kg"] == pytest.approx(2.26796185)
    assert pick["graded_out_kg"] == pytest.approx(0.226796185)
    assert (pick["last"], pick["cause"], pick["note"]) == (True, "birds", "wet")
    assert logged(planted, "stages")[0]["bbch"] == 65
    sprays = {str(row["tree"]): row for row in logged(planted, "sprays")}
    assert sprays["Wall pear"]["withholding_days"] == 3
    assert str(sprays["Wall pear"]["time_of_day"]) == "06:30:00"
    assert sprays["None"]["site"] == "Home"
    assert str(sprays["None"]["withholding_days"]) == "nan"


def test_a_weight_in_pounds_is_told_to_the_gram_and_kept_exactly(
    say: Harvest, planted: Orchard
) -> None:
    assert "weight 12.332 kg." in say("pick", "wall", "27lb 3oz", "--date", "2026-08-01").out
    # 27 lb 3 oz of 0.45359237 kg and a sixteenth of it (international agreement, 1959).
    assert logged(planted, "picks")[0]["weight_kg"] == pytest.approx(27.1875 * 0.45359237, abs=1e-9)


def test_the_report_as_json(say: Harvest) -> None:
    (told,) = json.loads(say("pick", "wall", "3kg", "--format", "json").out)
    assert (told["kind"], told["new"], told["batch"]) == ("picks", 1, 3)
    assert told["rows"][0]["weight_kg"] == "3"


def test_logging_and_undoing_leave_the_orchard_as_it_was(
    say: Harvest, harvest: Harvest, planted: Orchard, address: str
) -> None:
    say("pick", "wall", "3kg")
    assert harvest("--orchard", address, "undo").code == 0
    assert logged(planted, "picks") == []
    told = harvest("--orchard", address, "history", "wall").out
    assert "taken away" in told
    assert "Ada" in told


def test_in_a_terminal_it_asks_for_what_is_missing(sqlite_address: str, tmp_path: Path) -> None:
    orchard = open_orchard(sqlite_address)
    plant(orchard, tmp_path, [{"removed": "", **tree} for tree in TREES])
    ours, theirs = pty.openpty()
    program = subprocess.Popen(
        [Path(sys.executable).with_name("harvest"), "--orchard", sqlite_address, "log", "spray"],
        stdin=theirs, stdout=theirs, stderr=theirs, env=os.environ | {"TERM": "dumb"},
    )  # fmt: skip
    os.close(theirs)
    told = ""
    for question, answer in (("Which tree", "wall"), ("product", "Soap"), ("Withholding", "")):
        while question not in told:
            told += os.read(ours, 1000).decode()
        os.write(ours, f"{answer}\n".encode())
    assert program.wait(timeout=60) == 0
    os.close(ours)
    (spray,) = logged(orchard, "sprays")
    assert (spray["tree"], spray["product"]) == ("Wall pear", "Soap")
    assert str(spray["withholding_days"]) == "nan"
