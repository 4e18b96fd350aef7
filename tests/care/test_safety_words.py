"""Everything dangerous the tool could say, with the wording it must have.

The tool counts days from what a person typed off a label. It never says that a spray, a fruit or
a piece of work is safe, and it ships no number of days.
"""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from dashboard import texts as page_words
from dashboard.texts import bloom as bloom_words
from dashboard.texts import log as log_words
from dashboard.texts import may_i_pick as pick_words
from dashboard.texts import planting as planting_words
from dashboard.texts import week as week_words
from dashboard.texts import year as year_words
from harvest.care import texts
from harvest.care.calendar_rules import rules_from
from harvest.cli.log import LABEL
from harvest.store.reference import calendar_table

DAY = date(2026, 6, 1)
LATER = date(2026, 6, 8)

# sentence -> what it must hold, word for word
MUST: dict[str, tuple[str, tuple[str, ...]]] = {
    "label": (texts.LABEL_IS_LAW, ("The label is the law", "does not replace it")),
    "practice": (texts.PRACTICE, ("Local rules and licensed practice decide",)),
    "counted": (texts.COUNTED, ("7 days, sprayed 1 June, means 8 June", "follow the label")),
    "keep away": (texts.KEEP_AWAY, ("Keep people", "bees away")),
    "flowers": (texts.OPEN_FLOWERS, ("Never spray open flowers with an insecticide",)),
    "clothing": (texts.CLOTHING, ("protective clothing that the label names",)),
    "ripeness": (texts.NOT_FOOD_SAFETY, ("no statement on food safety",)),
    "clear": (texts.CLEAR, ("by the labels logged here", "read the label")),
    "nothing logged": (
        texts.NOTHING_LOGGED,
        ("is logged", "clear by the labels logged here", "read the label"),
    ),
    "old unknown": (
        texts.old_unknown("Soap", DAY, 1, 730),
        ("No withholding period is logged", "not counted", "Read the label"),
    ),
    "wait": (texts.wait(LATER, "Soap", DAY, 7), ("Do not pick before 8 Jun 2026", "7 days")),
    "unknown": (
        texts.unknown("Soap", DAY, LATER),
        ("Unknown", "Do not pick until you have read the label", "not before 8 Jun 2026"),
    ),
    "picked inside": (
        texts.picked_inside(DAY, "Soap", DAY, 7, LATER),
        ("inside the withholding period", "Do not eat, give away or sell", "local authority"),
    ),
    "picked unknown": (
        texts.picked_unknown("Soap", DAY),
        ("unknown", "do not eat, give away or sell", "local authority"),
    ),
    "removed": (texts.removed(DAY), ("taken out on 1 Jun 2026", "fruit that was picked before")),
    "blocked": (
        texts.blocked(LATER, 0.4),
        ("Picking is blocked until 8 Jun 2026", "40 %", "The forecast is shown where it is"),
    ),
    "blocked unknown": (texts.blocked_unknown(), ("blocked until the label has been read",)),
    "wrong crop": (
        texts.crop_not_on_label("apple", "peach", "Soap"),
        ("may not be treated", "before picking"),
    ),
    "spray by": (
        texts.spray_by(DAY, "Soap", 7, 0.05),
        ("as you gave it", "still a chance of 5 % that the fruit is ripe before"),
    ),
    "watch": (texts.LOOK, ("Look, log what you find", "ask a local adviser what is registered")),
    "decide": (texts.DECIDE, ("not advice to spray", "ask a local adviser", "read the label")),
    "ladder": (texts.LADDER, ("never lean out", "someone near")),
    "weight": (texts.WEIGHT, ("heavy",)),
    "frost work": (texts.FROST_WORK, ("never alone", "local rules")),
    "tools": (texts.TOOLS, ("never cut towards your hand",)),
}


@pytest.mark.parametrize("name", MUST)
def test_a_dangerous_sentence_has_its_wording(name: str) -> None:
    sentence, words = MUST[name]
    for word in words:
        assert word in sentence, f"{name}: {sentence}"


def test_every_sentence_of_the_module_is_listed_here() -> None:
    listed = {sentence for sentence, _ in MUST.values()}
    own = {value for name, value in vars(texts).items() if name.isupper() and type(value) is str}
    assert own - listed == {texts.WHAT_TO_DO}
    assert set(texts.SPRAY_CAUTIONS) <= listed


@pytest.mark.parametrize("name", MUST)
def test_nothing_is_called_safe_or_harmless(name: str) -> None:
    sentence = MUST[name][0].casefold().replace("food safety", "")
    assert not re.search(r"\bsafe|harmless|no danger|risk-free|guarantee", sentence)


@pytest.mark.parametrize("share", [0.0001, 0.004, 0.996, 0.99999])
def test_a_chance_is_never_rounded_to_certainty(share: float) -> None:
    assert texts.chance(share) not in ("0 %", "100 %")


def test_clear_never_stands_alone_in_the_program() -> None:
    """The sentence is in one place; nowhere else is a tree called clear in words."""
    root = Path(texts.__file__).parents[1]
    told = re.compile(r"\"[^\"]*\b(is|are|now) clear\b(?! by the labels)[^\"]*\"", re.IGNORECASE)
    for path in [*root.rglob("*.py"), *(root.parent / "dashboard").rglob("*.py")]:
        if path.name == "texts.py":
            continue
        assert not told.search(path.read_text(encoding="utf-8")), path.name


# What the pages say where someone could come to harm, in their own words.
PAGES_MUST: dict[str, tuple[str, tuple[str, ...]]] = {
    "week, held": (week_words.HELD, ("Do not pick or taste yet",)),
    "week, not before": (week_words.NOT_BEFORE, ("not before", "before you have read the label")),
    "week, not before, short": (week_words.NOT_BEFORE_SHORT, ("not before", "read the label")),
    "none held": (
        pick_words.MAY_ALL,
        ("No label logged here forbids", "not logged is not counted", "read its label"),
    ),
    "held, unread": (pick_words.MAY_NOT_UNREAD, ("unknown: read the label",)),
    "clear, in a table": (pick_words.HELD_STATUS["clear"], ("nothing logged forbids it",)),
    "clear, folded": (pick_words.CLEAR_TITLE, ("by any label logged here",)),
    "picked too soon": (pick_words.TOO_SOON_TITLE, ("too soon",)),
    "picked, unread": (pick_words.TOO_SOON_TITLE_UNKNOWN, ("without knowing",)),
    "blocked, in a picture": (page_words.KEY_BLOCKED, ("do not pick",)),
    "logged without days": (log_words.SAID_DAYS_UNKNOWN, ("unknown: read the label",)),
    "logged on a terminal": (LABEL, ("The label is the law", "not this program")),
    "last day": (pick_words.LAST_NOTE, ("none are known here", "no advice to spray")),
    "frost, shelter": (bloom_words.FROST_SHELTER, ("reads higher than a bud", "colder")),
    "frost, share": (bloom_words.FROST_KILL, ("about a tenth",)),
    "frost, unknown": (bloom_words.FROST_NONE, ("unknown",)),
    "partner, unknown": (bloom_words.VERDICT_NOTE["unknown"], ("not the same as no",)),
    "planting, promise": (planting_words.PROMISE, ("no promise", "Ask local growers")),
    "planting, frost": (planting_words.FROST_SAID, ("frost hollows are colder",)),
    "year, look": (year_words.UNCERTAINTY, ("Look at the tree before you act",)),
}


@pytest.mark.parametrize("name", PAGES_MUST)
def test_a_page_has_its_dangerous_wording(name: str) -> None:
    sentence, words = PAGES_MUST[name]
    for word in words:
        assert word in sentence, f"{name}: {sentence}"


def test_work_that_can_hurt_someone_carries_its_caution() -> None:
    """Rules of the calendar: what speaks of sprays, ladders, frost or tools, with its words."""
    rules = rules_from(calendar_table())
    needs = {
        r"spray|fungicide|insecticide": texts.DECIDE,
        r"^Pick$|Thin the fruit": texts.LADDER,
        r"^Pick$|stored": texts.WEIGHT,
        r"[Pp]run": texts.TOOLS,
        r"Frost watch": texts.FROST_WORK,
    }
    for words, caution in needs.items():
        found = [rule for rule in rules if re.search(words, rule.title)]
        assert found, words
        assert all(caution in rule.cautions for rule in found), words


def test_no_page_calls_anything_safe() -> None:
    """In the texts of the pages that speak of sprays, frost, fruit and planting."""
    told = re.compile(r"\bsafe(ly|r|st)?\b|harmless|no danger|risk-free|guarantee", re.IGNORECASE)
    for module in (week_words, pick_words, bloom_words, planting_words, year_words):
        for name, value in vars(module).items():
            if name.isupper():
                assert not told.search(str(value).replace("food safety", "")), name


def test_no_days_are_shipped_or_suggested() -> None:
    root = Path(texts.__file__).parents[1]
    for path in (root / "care").rglob("*.py"):
        source = path.read_text(encoding="utf-8")
        assert not re.search(r"withholding_days\s*(:\s*int)?\s*=\s*\d", source), path.name
    for table in (root.parent / "data" / "reference").glob("*.csv"):
        header = table.read_text(encoding="utf-8").splitlines()[0]
        assert "withholding" not in header, table.name
