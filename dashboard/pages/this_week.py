"""What to do this week: what cannot wait first, with the way to the page that tells more."""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set
from datetime import date, timedelta

from dash import Dash, dcc, html
from dash.development.base_component import Component

from dashboard import paths, texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.components.pieces import aria
from dashboard.components.plain import plain
from dashboard.data import WeekTask
from dashboard.measures import retold
from dashboard.pages import marking
from dashboard.paths import link
from dashboard.source import Source
from dashboard.texts import week as week_texts
from dashboard.views.week import (
    DO_NOT_PICK,
    LAST_DAY,
    PRESSING,
    Together,
    cautions,
    held_of,
    passing,
    together,
)
from dashboard.views.withholding import readable
from dashboard.words import count, day, listing, short_day, shown, span

WEEK_DAYS = 7
PAGE, BODY, SAID = "week", "week-body", "week-said"
CARDS = "cards week-cards"
NAMES = 6
IN_A_SENTENCE = (week_texts.BY, week_texts.NOT_BEFORE, week_texts.WAS_DUE)
IN_SHORT = (week_texts.BY_SHORT, week_texts.NOT_BEFORE_SHORT, week_texts.WAS_DUE_SHORT)
LEADS = {
    "Pick": (paths.PICKING, week_texts.TO_PICKING),
    "Test for ripeness": (paths.PICKING, week_texts.TO_PICKING),
    DO_NOT_PICK: (paths.MAY_I_PICK, week_texts.TO_MAY_I_PICK),
    "Picked inside a withholding period": (paths.MAY_I_PICK, week_texts.TO_MAY_I_PICK),
    "Take all fruit off a young tree": (paths.YOUNG, week_texts.TO_YOUNG),
    "Thin the fruit": (paths.YOUNG, week_texts.TO_YOUNG),
}
OTHERS = (
    ("picking", paths.PICKING),
    ("may_i_pick", paths.MAY_I_PICK),
    ("young", paths.YOUNG),
    ("seasons", paths.SEASONS),
)


def render(source: Source, view: View) -> Component:
    """The page as known on the view's date."""
    return pieces.page(
        texts.PAGE_TITLES["week"],
        *marking.place(PAGE, SAID),
        html.Div(body(source, view), id=BODY),
        html.Div(_others(view), className="no-print"),
    )


def connect(app: Dash, source: Source) -> None:
    """Mark tasks as done or put them off."""
    marking.connect(app, source, PAGE, (BODY, SAID), body)


def body(source: Source, view: View) -> list[Component]:
    """Everything that a mark changes."""
    as_of = view.as_of or source.home_date()
    answers = view.keep(source.withholding(as_of))
    if not answers:
        return [pieces.no_match()]
    tasks = passing(source.week(as_of), [answer.tree for answer in answers], view)
    held = {answer.tree for answer in answers if answer.status != "clear"}
    parts = [
        pieces.answer(sentence(tasks, as_of), week_texts.UNCERTAINTY),
        plain(*_ranks(together(tasks), held, view)),
        _cautions(tasks),
        pieces.table(table_rows(tasks), week_texts.COLUMNS, "week", texts.TABLE_TITLE)
        if tasks
        else None,
    ]
    return [part for part in parts if part is not None]


def sentence(tasks: Sequence[WeekTask], as_of: date) -> str:
    """How much there is to do, how much of it cannot wait, and the first of it."""
    week = span(as_of, as_of + timedelta(days=WEEK_DAYS - 1), as_of)
    if not tasks:
        return week_texts.ANSWER_NONE.format(week=week)
    first, pressing = tasks[0], sum(task.rank <= PRESSING for task in tasks)
    template = week_texts.ANSWER if pressing else week_texts.ANSWER_CALM
    return template.format(
        week=week,
        things=count(len(tasks), week_texts.THING_ONE, week_texts.THING_MANY),
        pressing=pressing,
        title=shown(first.title, 90),
        what=shown(first.what, 60),
        trees=listing([shown(tree) for tree in first.trees], NAMES),
        site=shown(first.site),
        by=_by(first, IN_A_SENTENCE, lambda when: day(when, as_of)),
    )


def _by(task: WeekTask, templates: tuple[str, str, str], written: Callable[[date], str]) -> str:
    """The day by which it is, or was, to be done, or before which fruit may not be picked."""
    if task.not_before is not None:
        return templates[1].format(date=written(task.not_before))
    if task.by is None:
        return ""
    return templates[2 if task.overdue else 0].format(date=written(task.by))


def _ranks(groups: Sequence[Together], held: Set[str], view: View) -> list[Component]:
    made = []
    for rank, heading in week_texts.RANKS.items():
        own = [group for group in groups if group.rank == rank]
        if own:
            number = sum(len(group.tasks) for group in own)
            cards = html.Ul([_card(group, held, view) for group in own], className=CARDS)
            title = f"{heading} ({number})"
            calm = rank > LAST_DAY
            folded = pieces.folded_section(title, cards, name=heading)
            made.append(folded if calm else pieces.section(title, cards))
    return made


def _card(group: Together, held: Set[str], view: View) -> Component:
    """One kind of thing to do at a site: for which trees, by when, how."""
    lead = LEADS.get(group.title)
    shared = _said_of_all(group)
    return html.Li(
        [
            html.Span(week_texts.SIGNS[group.rank], className="sign rank", **aria(hidden="true")),
            html.Div(
                [
                    html.H3(
                        [
                            html.Span(shown(group.title, 90), className="advice-name"),
                            html.Span(shown(group.site), className="how-many"),
                        ]
                    ),
                    html.P(shared, className="why") if shared else None,
                    html.Ul(
                        [_entry(task, held, view, shared) for task in group.tasks],
                        className="tasks",
                    ),
                    html.P(dcc.Link(lead[1], href=link(lead[0], view.but(site=group.site))))
                    if lead
                    else None,
                ]
            ),
        ],
        className=("card held", "card due")[group.rank] if group.rank <= PRESSING else "card",
    )


def _said_of_all(group: Together) -> str:
    """What is said first of each of several tasks alike, to be said once."""
    first = {task.says[0] if task.says else "" for task in group.tasks}
    if group.rank == 0 or len(group.tasks) == 1 or len(first) > 1:
        return ""
    return readable(first.pop(), ())


def _entry(task: WeekTask, held: Set[str], view: View, shared: str) -> Component:
    """One task; what could do harm is said in full, the rest unfolds."""
    says = [readable(text, [task.what, *task.trees]) for text in task.says]
    summary, more = week_texts.HOW, says[1:]
    if not shared and says:
        summary = says[0]
    by = _by(task, IN_SHORT, short_day)
    told = html.Ul([html.Li(text) for text in says], className="why")
    source = week_texts.SOURCE.format(source=task.source) if task.source else None
    return html.Li(
        [
            html.Strong(html.Bdi(shown(task.what, 60))),
            f" · {listing([shown(tree) for tree in task.trees], NAMES)} " if task.trees else " ",
            html.Span(by, className="when"),
            marking.held_line(held_of(task, held), view.but(site=task.site)),
            marking.buttons(PAGE, task, ("done", "later")),
            told
            if task.rank == 0
            else html.Details(
                [
                    html.Summary(summary),
                    html.Ul([html.Li(text) for text in more]) if more else None,
                    html.P(source) if source else None,
                ],
                className="sources",
                **pieces.data(fold=f"{task.code or task.title} {task.what}"),
            ),
        ]
    )


def _cautions(tasks: Sequence[WeekTask]) -> Component | None:
    found = cautions(tasks)
    if not found:
        return None
    return pieces.notice(
        week_texts.CAUTIONS, [html.Ul([html.Li(retold(text)) for text in found])], kind="danger"
    )


def _others(view: View) -> Component:
    """The questions that other pages answer."""
    return pieces.section(
        week_texts.OTHERS,
        html.Nav(
            [
                dcc.Link(texts.PAGE_TITLES[name], href=link(path, view), className="choice")
                for name, path in OTHERS
            ],
            className="switch others-list",
            **aria(label=week_texts.OTHERS),
        ),
    )


def table_rows(tasks: Sequence[WeekTask]) -> list[dict[str, object]]:
    """The tasks as rows of a table."""
    return [
        {
            "rank": f"{task.rank}: {week_texts.RANKS[task.rank]}",
            "by": task.by.isoformat() if task.by else "",
            "not_before": task.not_before.isoformat() if task.not_before else "",
            "title": shown(task.title, 90),
            "what": shown(task.what, 60),
            "site": shown(task.site),
            "trees": ", ".join(shown(tree) for tree in task.trees),
            "says": " ".join(readable(text, [task.what, *task.trees]) for text in task.says),
            "source": task.source,
        }
        for task in tasks
    ]
