"""Where each tree stands and how it is doing: the orchard by row and position."""

from __future__ import annotations

from collections.abc import Sequence

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import paths, texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.components.pieces import aria
from dashboard.components.plain import plain
from dashboard.measures import filled
from dashboard.paths import link
from dashboard.source import Source
from dashboard.texts import plan as plan_texts
from dashboard.views import plan as views
from dashboard.views.plan import LOOKS, NAMES, PlanSite, PlanTree, Told
from dashboard.words import count, day, shown

MEASURE = "week"
# From so many positions on, a field shows its sign only; the words are in its title and the table.
WIDE = 22
NAME_ON_FIELD = 10


def render(source: Source, view: View) -> Component:
    """The page as known on the view's date."""
    as_of = view.as_of or source.home_date()
    measure = view.choice("measure")
    measure = measure if measure in LOOKS else MEASURE
    trees = view.keep(views.plan_trees(source.overview(as_of).trees, *_told(source, measure, view)))
    if not trees:
        said = plan_texts.NO_TREES.format(date=day(as_of)) if not view.filtered else texts.NO_MATCH
        return pieces.page(texts.PAGE_TITLES["plan"], pieces.answer(said))
    sites, left = views.laid_out(trees)
    counted = count(len(trees), texts.TREE_ONE, texts.TREE_MANY)
    return pieces.page(
        texts.PAGE_TITLES["plan"],
        pieces.answer(views.sentence(measure, trees, counted, day(as_of))),
        _measures(view, measure),
        _key(measure),
        *(_site(site, measure, explained=at == 0) for at, site in enumerate(sites)),
        _unplaced(left, measure),
        pieces.table(
            [_cells(tree, measure) for tree in trees],
            plan_texts.TABLE_COLUMNS,
            "plan",
            texts.TABLE_TITLE,
        ),
    )


def _told(source: Source, measure: str, view: View) -> tuple[dict[str, Told], Told]:
    """The measure of every tree that has one, and what is said of one that has none."""
    as_of = view.as_of or source.home_date()
    if measure == "may":
        return views.by_leave(source.withholding(as_of)), Told("unread", plan_texts.READ_LABEL)
    unknown = Told("unknown", NAMES[measure]["unknown"])
    if measure == "week":
        return views.by_week(source.forecast(as_of), as_of), unknown
    if measure == "young":
        return views.by_advice(source.crop_load(as_of)), unknown
    seasons = source.yields_by(as_of, "tree")
    if measure == "kg":
        return views.by_weight(seasons), unknown
    return views.by_verdict(seasons), unknown


def _measures(view: View, measure: str) -> Component:
    links = [
        _choice(
            filled(words), view.choosing(measure=None if name == MEASURE else name), name == measure
        )
        for name, words in plan_texts.MEASURES.items()
    ]
    return html.Nav(
        [html.Span(plan_texts.MEASURE_LABEL), *links],
        className="switch wraps",
        **aria(label=plan_texts.MEASURE_LABEL),
    )


def _choice(words: str, view: View, chosen: bool) -> Component:
    link_: Component = dcc.Link(
        words,
        href=link(paths.PLAN, view) or "plan",
        className="choice chosen" if chosen else "choice",
    )
    return link_


def _key(measure: str) -> Component:
    return html.Ul(
        [
            html.Li([html.Span(sign, className=f"plan-sign {fill}", **aria(hidden="true")), words])
            for state, words in NAMES[measure].items()
            for fill, sign in [LOOKS[measure][state]]
        ],
        className="key plan-key",
    )


def _site(site: PlanSite, measure: str, *, explained: bool) -> Component:
    """A site's rows as a grid that scrolls sideways where it is too wide."""
    width = site.last - site.first + 1
    small = width > WIDE
    lines: list[Component] = []
    for row in site.rows:
        lines.append(html.Div(plan_texts.ROW.format(row=row.row), className="plan-row"))
        lines += [
            _field(row.trees.get(position), measure, small=small)
            for position in range(site.first, site.last + 1)
        ]
    cell = "30px" if small else "minmax(var(--plan-cell), 1fr)"
    return pieces.section(
        html.Bdi(shown(site.site)),
        html.P(plan_texts.PLAN_NOTE, className="quiet") if explained else None,
        html.P(plan_texts.LONG_ROWS.format(first=site.first, last=site.last), className="quiet")
        if small
        else None,
        html.Div(
            plain(
                *lines,
                className="plan-grid",
                style={"gridTemplateColumns": f"auto repeat({width}, {cell})"},
            ),
            className="plan",
            tabIndex="0",
            role="region",
            **aria(label=plan_texts.REGION.format(site=shown(site.site))),
        ),
    )


def _field(tree: PlanTree | None, measure: str, *, small: bool) -> Component:
    if tree is None:
        return html.Div(className="plan-gap")
    fill, sign = LOOKS[measure][tree.told.state]
    title = f"{shown(tree.tree)} {shown(tree.cultivar)}: {_in_words(tree, measure)}"
    mark = html.Span(sign, className="plan-mark", **aria(hidden="true"))
    if small:
        hidden = html.Span(title, className="unseen")
        return html.Div([mark, hidden], className=f"plan-tree small {fill}", title=title)
    return html.Div(
        [
            html.Span([mark, html.Bdi(shown(tree.tree, NAME_ON_FIELD))], className="plan-name"),
            html.Span(tree.told.words, className="plan-words"),
            html.Span(html.Bdi(shown(tree.cultivar, 18)), className="plan-kind"),
        ],
        className=f"plan-tree {fill}",
        title=title,
    )


def _in_words(tree: PlanTree, measure: str) -> str:
    name = NAMES[measure][tree.told.state]
    return name if tree.told.words == name else f"{name}, {tree.told.words}"


def _unplaced(trees: Sequence[PlanTree], measure: str) -> Component | None:
    if not trees:
        return None
    entries = [
        html.Li(f"{shown(tree.tree)} {shown(tree.cultivar)}: {_in_words(tree, measure)}")
        for tree in trees
    ]
    return pieces.section(
        plan_texts.UNPLACED_TITLE.format(count=len(trees)),
        html.P(plan_texts.UNPLACED_NOTE),
        html.Ul(entries, className="plan-left"),
    )


def _cells(tree: PlanTree, measure: str) -> dict[str, object]:
    return {
        "tree": shown(tree.tree),
        "cultivar": shown(tree.cultivar),
        "species": shown(tree.species),
        "site": shown(tree.site),
        "row": tree.row,
        "position": tree.position,
        "state": NAMES[measure][tree.told.state],
        "words": tree.told.words,
    }
