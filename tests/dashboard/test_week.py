from datetime import date

from dashboard.address import View
from dashboard.data import WeekTask
from dashboard.pages.this_week import LEADS, sentence, table_rows
from dashboard.texts import week as week_texts
from dashboard.views.week import cautions, held_of, passing, together
from harvest.service_calendar import calendar
from harvest.store.orchard import Orchard
from tests.dashboard.client import Client, all_text, app_of, find
from tests.dashboard.made_up import AS_OF


def task(rank: int = 2, title: str = "Pick", **said: object) -> WeekTask:
    given = {
        "by": date(2026, 8, 15),
        "site": "Northfield",
        "what": "apple Testapple",
        "trees": ("A1",),
        "says": ("Invented work.",),
        "cautions": ("Invented caution.",),
    }
    return WeekTask(rank=rank, title=title, **(given | said))  # type: ignore[arg-type]


def test_the_sentence_counts_what_cannot_wait_and_names_the_first() -> None:
    held = task(0, "Do not pick", by=None, not_before=date(2026, 8, 15))
    said = sentence([held, task(1), task(3)], AS_OF)
    assert said == (
        "12 to 18 August: 3 things to see to, 2 that cannot wait. First: Do not pick, "
        "apple Testapple (A1), Northfield, not before 15 August, "
        "and not before you have read the label."
    )
    assert "Northfield, by 15 August" in sentence([task(1)], AS_OF)
    late = task(2, by=date(2026, 8, 1), overdue=True)
    assert "Northfield, which was due by 1 August" in sentence([late], AS_OF)
    assert "none of which presses" in sentence([task(3)], AS_OF)
    assert "nothing is asked for" in sentence([], AS_OF)


def test_alike_things_stand_together_and_what_cannot_wait_stands_first() -> None:
    tasks = [task(2, what="apple One"), task(2, what="apple Two"), task(1), task(2, site="South")]
    found = together(tasks)
    assert [(group.rank, group.site, len(group.tasks)) for group in found] == [
        (1, "Northfield", 1),
        (2, "Northfield", 2),
        (2, "South", 1),
    ]


def test_cautions_are_told_once() -> None:
    assert cautions([task(), task(cautions=("Invented caution.", "Other."))]) == [
        "Invented caution.",
        "Other.",
    ]


def test_filters_keep_tasks_of_the_trees_that_pass_and_those_of_whole_sites() -> None:
    tasks = [task(), task(trees=("B1",)), task(trees=()), task(site="South", trees=())]
    assert len(passing(tasks, ["A1"], View())) == 4
    kept = passing(tasks, ["A1"], View(site="Northfield", cultivar="Testapple"))
    assert kept == [tasks[0], tasks[2]]


def test_fruit_that_may_not_be_picked_is_not_to_be_tasted_either() -> None:
    assert held_of(task(title="Test for ripeness", trees=("A1", "A2")), {"A2"}) == ["A2"]
    assert held_of(task(title="Measure the trunks"), {"A1"}) == []


def test_the_page_leads_on_from_titles_that_the_calendar_has(demo: Orchard) -> None:
    days = (AS_OF, date(2026, 5, 20))
    titles = {item.title for day in days for item in calendar(demo, day).items}
    own = {"Do not pick", "Picked inside a withholding period"}
    assert set(LEADS) - own <= titles


def test_the_start_page_says_what_cannot_wait_first(demo: Orchard) -> None:
    page = Client(app_of(demo)).page("/")
    said = all_text(page)
    assert "First: Do not pick" in all_text(find(page, "answer"))
    headings = [said.index(text) for text in list(week_texts.RANKS.values())[:4]]
    assert headings == sorted(headings)
    assert "Do not pick or taste yet: Q2-01" in said
    assert said.count("The label is the law; this tool does not replace it.") == 1
    only = all_text(Client(app_of(demo)).page("/", "?site=Saltpan+Reach"))
    assert "Quernwell" not in only


def test_the_table_has_every_task() -> None:
    rows = table_rows([task(), task(0, by=None)])
    assert [row["by"] for row in rows] == ["2026-08-15", ""]
    assert rows[1]["rank"] == "0: First of all: someone could come to harm"
