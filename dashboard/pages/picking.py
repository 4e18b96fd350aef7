"""Which week do I pick: the running season's windows, by cultivar or by tree."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.components.pieces import aria
from dashboard.figures.windows import blocked_short
from dashboard.measures import retold
from dashboard.pages import crop_ahead
from dashboard.pages.picking_pictures import (
    WEEKS_AHEAD,
    picked_already,
    pictures,
    season_bands,
    trees_of,
)
from dashboard.paths import MAY_I_PICK, link
from dashboard.source import Source
from dashboard.views.blocks import blocks
from dashboard.views.windows import HIGH, LOW, Window, coming_weeks, windows, with_blocks
from dashboard.words import (
    day,
    listing,
    percent,
    short_span,
    shown,
    week,
    week_start,
)

NAMES_IN_SENTENCE = 4
# Chance from which a cultivar is worth a look in a week that is not its likeliest.
LOOK = 0.2


def render(source: Source, view: View) -> Component:
    """The page as known on the view's date."""
    as_of = view.as_of or source.home_date()
    rows = window_rows(source, view, as_of)
    if not rows:
        return pieces.page(texts.PAGE_TITLES["picking"], pieces.no_match())
    known = [row for row in rows if row.state in ("picking", "to come")]
    over = [row for row in rows if row.state == "over"]
    unknown = [row for row in rows if row.state == "unknown"]
    return pieces.page(
        texts.PAGE_TITLES["picking"],
        pieces.answer(*sentences(rows, as_of), *_blocked(known, view, as_of)),
        _agenda(known, view, as_of) if known else None,
        _rows_switch(view),
        *pictures(known, view, as_of),
        trees_of(rows, view),
        crop_ahead.place(view),
        season_bands([*known, *over], as_of),
        picked_already(over, as_of),
        _unknown(unknown),
        _warnings(known),
        pieces.table(
            table_rows([*known, *over, *unknown]),
            texts.WINDOW_COLUMNS,
            "picking",
            texts.TABLE_TITLE,
        ),
    )


def sentences(rows: Sequence[Window], as_of: date) -> list[str]:
    """The answer: what is being picked, and what ripens next, when and how surely."""
    said = []
    picking = [row for row in rows if row.state == "picking"]
    coming = [row for row in rows if row.state == "to come"]
    if picking:
        names = listing([shown(row.title) for row in picking], NAMES_IN_SENTENCE)
        said.append(texts.PICK_NOW.format(date=day(as_of), names=names))
    elif coming:
        said.append(texts.PICK_NEXT_WHEN_NONE_NOW.format(date=day(as_of)))
    if coming:
        said.append(_next(coming[0], as_of))
    if not said:
        said.append(texts.PICK_NONE.format(date=day(as_of)))
    return said


def _blocked(rows: Sequence[Window], view: View, as_of: date) -> list[Component]:
    """What is ripe, or will be, and may not be picked; with the way to the reasons."""
    found = {block.tree: (block, row) for row in rows for block in row.blocked}
    if not found:
        return []
    groups: dict[str, list[str]] = defaultdict(list)
    for tree, (block, row) in sorted(found.items()):
        groups[blocked_words(block.until, as_of)].append(f"{shown(tree)} {shown(row.cultivar)}")
    names = [
        texts.BLOCKED_NAME.format(name=listing(own, NAMES_IN_SENTENCE), when=when)
        for when, own in groups.items()
    ]
    said = texts.BLOCKED_ANSWER.format(names="; ".join(names))
    return [
        html.Span([said, dcc.Link(texts.BLOCKED_LINK, href=link(MAY_I_PICK, view))]),
    ]


def blocked_words(until: date | None, near: date) -> str:
    """From when picking is allowed again, or that a label has to be read first."""
    if until is None:
        return texts.BLOCKED_UNKNOWN
    return texts.BLOCKED_UNTIL.format(date=day(until, near))


def _next(row: Window, as_of: date) -> str:
    likeliest = row.likeliest_week or (week_start(row.quantiles[0.5]), 0.0)
    return texts.PICK_NEXT.format(
        name=shown(row.title),
        species=shown(row.species),
        site=shown(row.site),
        week=week(likeliest[0], as_of),
        chance=percent(likeliest[1]),
        span=texts.AND_BETWEEN.format(
            first=day(row.quantiles[LOW], as_of), last=day(row.quantiles[HIGH], as_of)
        ),
    )


def window_rows(source: Source, view: View, as_of: date) -> list[Window]:
    """Rows of the picking forecast that pass the view's filters, by cultivar or by tree."""
    events = view.keep(source.forecast(as_of))
    picks = source.records(as_of).picks
    picks = picks[picks["season"].isin({event.season for event in events})]
    passes = zip(picks["tree"], picks["season"], picks["date"].dt.date, strict=True)
    sites = source.overview(as_of).sites
    latitudes = dict(zip(sites["site"], sites["latitude"], strict=True))
    found = windows(events, passes, latitudes, as_of, by_tree=view.rows == "trees")
    return with_blocks(found, blocks(events, source.withholding(as_of)))


def _agenda(rows: Sequence[Window], view: View, as_of: date) -> Component:
    """This week and those that follow, each with what most likely ripens in it."""
    agenda = coming_weeks(rows, as_of, WEEKS_AHEAD)
    picking = [row for row in rows if row.state == "picking"]
    cards = []
    for number, (first, coming) in enumerate(agenda.items()):
        heading = (texts.AGENDA_THIS, texts.AGENDA_NEXT)[number] if number < 2 else None
        entries = [_entry(row, view, row.weeks[first]) for row in coming]
        if number == 0:
            early = [row for row in rows if row not in coming and row.state == "to come"]
            entries = [
                *(_entry(row, view, None) for row in picking),
                *entries,
                *(_perhaps(row, view, first) for row in early if row.weeks.get(first, 0) >= LOOK),
            ]
        cards.append(
            html.Li(
                [
                    html.H3(
                        [
                            html.Span(heading, className="which") if heading else None,
                            short_span(first, first + timedelta(days=6)),
                        ]
                    ),
                    html.Ul(entries)
                    if entries
                    else html.P(texts.AGENDA_NOTHING, className="quiet"),
                ],
                className="week this" if number == 0 else "week",
            )
        )
    return pieces.section(
        texts.AGENDA_TITLE,
        html.P(texts.AGENDA_NOTE, className="quiet"),
        html.Ol(cards, className="agenda"),
    )


def _perhaps(row: Window, view: View, first: date) -> Component:
    """What is likeliest later but may be ripe this week already: worth a look."""
    said = texts.AGENDA_PERHAPS.format(chance=percent(row.weeks[first]))
    return _line(row, view, "band80", said)


def _entry(row: Window, view: View, chance: float | None) -> Component:
    """What is being picked (no chance), or likely to ripen."""
    if chance is None:
        return _line(row, view, "ripe", texts.AGENDA_NOW)
    return _line(row, view, "band50", percent(chance))


def _line(row: Window, view: View, sign: str, said: str) -> Component:
    own = view.but(site=row.site, cultivar=row.cultivar, rows="trees")
    return html.Li(
        [
            html.Span(className=f"sign {sign}", **aria(hidden="true")),
            dcc.Link(html.Bdi(shown(row.title, 28)), href=own.search(), className="name"),
            html.Span(said, className="chance"),
            _blocked_line(row, own),
        ]
    )


def _blocked_line(row: Window, own: View) -> Component | None:
    if not row.blocked:
        return None
    return html.Span(
        [
            html.Span(className="sign blocked", **aria(hidden="true")),
            dcc.Link(blocked_short(row), href=link(MAY_I_PICK, own)),
        ],
        className="blocked-line",
    )


def _rows_switch(view: View) -> Component:
    choices = (("cultivars", texts.ROW_CULTIVARS), ("trees", texts.ROW_TREES))
    return html.Nav(
        [
            html.Span(texts.ROWS_LABEL),
            *(
                dcc.Link(
                    words,
                    href=view.but(rows=rows).search() or "?",
                    className="choice chosen" if view.rows == rows else "choice",
                )
                for rows, words in choices
            ),
        ],
        className="switch",
        **aria(label=texts.ROWS_LABEL),
    )


def _unknown(rows: Sequence[Window]) -> Component | None:
    """What cannot be said, grouped by the reason it cannot."""
    if not rows:
        return None
    groups: dict[tuple[str, str, str], list[str]] = defaultdict(list)
    for row in rows:
        reason = "; ".join(row.warnings) or texts.UNKNOWN_REASONLESS
        groups[row.site, row.label, reason].append(shown(row.name))
    entries = [
        html.Li(
            [
                html.Strong(f"{shown(site)}, {season}: "),
                html.Span(retold(reason), className="reason"),
                html.Br(),
                html.Span(listing(names), className="names"),
            ]
        )
        for (site, season, reason), names in groups.items()
    ]
    return pieces.section(
        f"{texts.UNKNOWN_TITLE} ({len(rows)})", html.Ul(entries, className="unknown")
    )


def _warnings(rows: Sequence[Window]) -> Component | None:
    groups: dict[str, list[str]] = defaultdict(list)
    for row in rows:
        for text in row.warnings:
            groups[text].append(shown(row.name))
    if not groups:
        return None
    entries = [
        html.Li(
            [html.Span(retold(text), className="reason"), " ", html.Span(f"({listing(names, 6)})")]
        )
        for text, names in groups.items()
    ]
    return html.Details(
        [html.Summary(f"{texts.WARNINGS_TITLE} ({len(groups)})"), html.Ul(entries)],
        className="fold",
    )


def table_rows(rows: Sequence[Window]) -> list[dict[str, object]]:
    """The windows as rows of a table; dates are ISO 8601, so that they sort."""
    levels = {"low": 0.1, "lower": 0.25, "median": 0.5, "upper": 0.75, "high": 0.9}
    found = []
    for row in rows:
        likeliest = row.likeliest_week
        found.append(
            {
                "name": shown(row.name),
                "species": shown(row.species),
                "site": shown(row.site),
                "season": row.label,
                "state": texts.STATE_NAMES[row.state],
                "week": likeliest[0].isoformat() if likeliest else "",
                "chance": percent(likeliest[1]) if likeliest else "",
                **{
                    name: row.quantiles[level].isoformat() if row.quantiles else ""
                    for name, level in levels.items()
                },
                "ripe": ", ".join(day.isoformat() for day in row.ripe),
                "last_pick": row.last_pick.isoformat() if row.last_pick else "",
                "picks": len(row.picks),
                "trees": len(row.trees),
                "blocked": "; ".join(
                    f"{shown(block.tree)}: {block.until or texts.BLOCKED_UNKNOWN}"
                    for block in row.blocked
                ),
                "basis": texts.PRIOR_NAMES.get(row.basis, row.basis),
                "warnings": retold("; ".join(row.warnings)),
            }
        )
    return found
