"""The year: what each site and tree asks for by month, marked and added to from here."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from datetime import date
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.development.base_component import Component

from dashboard import ids, texts
from dashboard.address import View, view_of_search
from dashboard.components import pieces
from dashboard.components.plain import plain
from dashboard.data import CalendarItem
from dashboard.figures.year import year_figure
from dashboard.measures import retold
from dashboard.pages import marking, year_adding
from dashboard.source import Source
from dashboard.texts import year as words
from dashboard.views.withholding import readable
from dashboard.views.year import (
    AHEAD_DAYS,
    Held,
    by_month,
    held_now,
    held_of,
    next_due,
    off_of,
    passing,
    rows_of,
)
from dashboard.words import count, day, listing, shown, span

PAGE = "year"
BODY, SAID = "year-body", "year-said"
TREE = "year-tree"
FILE, FILE_SENT = "year-file", "year-file-sent"
MOST_TREES, MOST_CHOICES = 6, 100
MOST_PICTURES, MOST_OF_A_MONTH = 6, 60
SIGNS: pieces.Signs = (
    ("band50", words.KEY_DAYS),
    ("band80", words.KEY_SPAN),
    ("year-done", words.KEY_DONE),
    ("as-of", texts.KEY_AS_OF),
)


def render(source: Source, view: View) -> Component:
    """The page as known on the view's date."""
    return pieces.page(
        texts.PAGE_TITLES["year"],
        _tree_choice(source, view),
        *marking.place(PAGE, SAID),
        html.Div(body(source, view), id=BODY),
        html.Div([_file(), year_adding.form(source, view)], className="no-print"),
    )


def connect(app: Dash, source: Source) -> None:
    """Mark, add and download."""
    marking.connect(app, source, PAGE, (BODY, SAID), body)
    year_adding.connect(app, source, PAGE, (BODY, SAID), body)

    @app.callback(
        Output(FILE_SENT, "data"),
        Input(FILE, "n_clicks"),
        State(ids.ADDRESS, "search"),
        prevent_initial_call=True,
    )
    def send(_: int | None, search: str | None) -> Any:
        view = view_of_search(search, source.latest_date())
        as_of = view.as_of or source.home_date()
        content = source.calendar_file(as_of, view.site, view.choice("tree"), retold)
        return {
            "content": base64.b64encode(content).decode("ascii"),
            "filename": words.FILE_NAME,
            "type": "text/calendar",
            "base64": True,
        }

    @app.callback(
        Output(ids.ADDRESS, "search", allow_duplicate=True),
        Input(TREE, "value"),
        State(ids.ADDRESS, "search"),
        prevent_initial_call=True,
    )
    def choose(tree: str | None, search: str | None) -> Any:
        return choosing(tree, view_of_search(search, source.latest_date()))


def choosing(tree: str | None, view: View) -> Any:
    """The address for a tree that was chosen, None for all; nothing where it is there already."""
    return no_update if (tree or None) == view.choice("tree") else view.choosing(tree=tree).search()


def body(source: Source, view: View) -> list[Component]:
    """Everything that a mark changes."""
    as_of = view.as_of or source.home_date()
    year = source.calendar(as_of)
    answers = source.withholding(as_of)
    items = passing(year.items, answers, view, as_of)
    parts: list[Component | None] = [
        pieces.answer(sentence(items, as_of, view.choice("tree")), words.UNCERTAINTY),
        *_pictures(items, as_of),
        _months(items, as_of, held_now(answers), view),
        _off(source.switched_off(as_of)),
        _unknown(year.unknown),
        _cautions(items),
        pieces.table(table_rows(items), words.COLUMNS, "year", words.TABLE_TITLE)
        if items
        else None,
    ]
    return [part for part in parts if part is not None]


def _tree_choice(source: Source, view: View) -> Component:
    """Which of the trees that pass the filters the year is told of."""
    as_of = view.as_of or source.home_date()
    trees = {answer.tree for answer in view.keep(source.withholding(as_of))}
    chosen = view.choice("tree")
    names = sorted(trees | ({chosen} if chosen else set()), key=str.casefold)
    select = dmc.Select(
        id=TREE, label=words.TREE, placeholder=words.ALL_TREES, value=chosen, limit=MOST_CHOICES,
        data=[{"value": name, "label": shown(name)} for name in names],
        clearable=True, searchable=True, clearButtonProps={"aria-label": words.ALL_TREES},
        size="md",
    )  # fmt: skip
    return html.Div(select, className="year-tree no-print")


def sentence(items: Sequence[CalendarItem], as_of: date, tree: str | None = None) -> str:
    """How much there is, and the next deadline."""
    if not items:
        return words.NONE
    told = {
        "whom": words.FOR_TREE.format(tree=shown(tree)) if tree else "",
        "date": day(as_of),
        "count": count(len(items), words.ITEM_ONE, words.ITEM_MANY),
        "until": day(date.fromordinal(as_of.toordinal() + AHEAD_DAYS)),
        "done": sum(item.status == "done" for item in items),
    }
    due = next_due(items, as_of)
    if due is None:
        return words.ANSWER_NONE_DUE.format(**told)
    return words.ANSWER.format(
        **told,
        title=shown(due.title, 90),
        what=shown(due.what or due.site, 60),
        site=shown(due.site),
        by=day(due.last_day, as_of),
    )


def _pictures(items: Sequence[CalendarItem], as_of: date) -> list[Component]:
    made: list[Component] = []
    sites = list(dict.fromkeys(item.site for item in items))
    for number, site in enumerate(sites[:MOST_PICTURES]):
        rows = rows_of([item for item in items if item.site == site])
        made.append(
            pieces.section(
                words.PICTURE_TITLE.format(site=shown(site)),
                pieces.picture(
                    year_figure(rows, as_of), words.CAPTION, SIGNS, f"year-{number}",
                    label=words.LABEL.format(site=shown(site)), explained=number == 0,
                ),
            )
        )  # fmt: skip
    if len(sites) > MOST_PICTURES:
        left = words.MORE_SITES.format(count=len(sites) - MOST_PICTURES)
        made.append(html.P(left, className="quiet"))
    return made


def _months(items: Sequence[CalendarItem], as_of: date, held: Held, view: View) -> Component:
    parts = [
        html.Details(
            [
                html.Summary(
                    words.MONTH.format(
                        month=texts.MONTHS[month.month - 1], year=month.year, count=len(own)
                    )
                ),
                html.Ul([_item(item, as_of, held, view) for item in told], className="year-items"),
                html.P(words.MORE_ITEMS.format(count=len(own) - len(told)), className="quiet")
                if len(told) < len(own)
                else None,
            ],
            className="fold",
            open=number == 0,
            **pieces.data(fold=f"{month:%Y-%m}"),
        )
        for number, (month, own) in enumerate(by_month(items, as_of))
        for told in [_first_of(own)]
    ]
    return pieces.section(words.MONTHS_TITLE, plain(*parts))


def _first_of(items: Sequence[CalendarItem]) -> list[CalendarItem]:
    """The first items of a month, and whatever people added to it."""
    return [item for n, item in enumerate(items) if item.added or n < MOST_OF_A_MONTH]


def _item(item: CalendarItem, as_of: date, held: Held, view: View) -> Component:
    done = item.status == "done"
    days = span(item.first_day, item.last_day, as_of)
    when = words.WHEN_MOVED.format(span=days) if item.moved else words.WHEN.format(
        span=days, wide=span(item.earliest, item.latest, as_of)
    )  # fmt: skip
    if item.days_set and not item.moved:
        when = days
    trees = words.TREES.format(
        count=count(len(item.trees), texts.TREE_ONE, texts.TREE_MANY),
        names=listing([shown(tree) for tree in item.trees], MOST_TREES),
    )
    names = [*item.trees, item.what, item.site]
    told = [readable(text, names) for text in (item.todo, *item.notes) if text]
    kind = marking.button(
        PAGE, "off_kind", f"{item.item}@{item.site}", words.OFF_KIND, item.title, item.site
    )
    return html.Li(
        [
            html.Strong(html.Bdi(shown(item.title, 90))),
            html.Span(
                f" · {' · '.join(shown(part, 60) for part in (item.what, item.site) if part)}"
            ),
            html.Span(f" {words.DONE_SIGN}", className="when") if done else None,
            html.P(when, className="when"),
            html.P(trees, className="quiet") if item.trees else None,
            marking.held_line(held_of(item, held, as_of), view.but(site=item.site)),
            html.Details(
                [
                    html.Summary(words.HOW),
                    html.Ul([html.Li(text) for text in told]),
                    html.P(words.WHY.format(why=readable(item.why, names))) if item.why else None,
                    html.Ul([html.Li(retold(text)) for text in item.cautions], className="caution")
                    if item.cautions
                    else None,
                    html.P(words.SOURCE.format(source=item.source), className="quiet"),
                    None if item.added else kind,
                ],
                className="sources",
                **pieces.data(fold=item.code),
            ),
            marking.buttons(PAGE, item, ("open",) if done else ("done", "later", "off")),
        ],
        className="year-done" if done else "",
    )


def _off(targets: Sequence[str]) -> Component | None:
    if not targets:
        return None
    lines = []
    for target in targets:
        off = off_of(target)
        name = off.kind
        if off.single:
            name = words.OFF_ITEM.format(code=target[:8])
        elif off.site is not None:
            name = words.OFF_AT.format(kind=off.kind, site=shown(off.site))
        back = marking.button(PAGE, "on", target, words.ON, name)
        lines.append(html.Li([html.Bdi(shown(name, 90)), " ", back]))
    return html.Details(
        [html.Summary(words.OFF_TITLE.format(count=len(lines))), html.Ul(lines)], className="fold"
    )


def _unknown(said: Sequence[str]) -> Component | None:
    if not said:
        return None
    lines = html.Ul([html.Li(retold(text)) for text in said], className="unknown")
    return html.Details([html.Summary(words.UNKNOWN_TITLE), lines], className="fold")


def _cautions(items: Sequence[CalendarItem]) -> Component | None:
    found = list(dict.fromkeys(text for item in items for text in item.cautions))
    if not found:
        return None
    told = html.Ul([html.Li(retold(text)) for text in found])
    return pieces.notice(words.CAUTIONS_TITLE, [told], kind="danger")


def _file() -> Component:
    return pieces.section(
        words.FILE_TITLE,
        html.P(words.FILE_NOTE, className="quiet"),
        html.Button(words.FILE, id=FILE, type="button", className="choice"),
        dcc.Download(id=FILE_SENT),
    )


def table_rows(items: Sequence[CalendarItem]) -> list[dict[str, object]]:
    """The items as rows of a table."""
    return [
        {
            "first": item.first_day.isoformat(),
            "last": item.last_day.isoformat(),
            "earliest": item.earliest.isoformat(),
            "latest": item.latest.isoformat(),
            "title": shown(item.title, 90),
            "what": shown(item.what, 60) if item.what else "",
            "site": shown(item.site),
            "status": words.DONE_SIGN if item.status == "done" else "",
            "trees": ", ".join(shown(tree) for tree in item.trees),
            "why": readable(item.why, [*item.trees, item.what, item.site]),
            "todo": readable(
                " ".join((item.todo, *item.notes)), [*item.trees, item.what, item.site]
            ),
            "source": item.source,
        }
        for item in items
    ]
