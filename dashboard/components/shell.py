"""The frame round every page: name, navigation, the as-of date, the filters, the demo's note."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import dash_mantine_components as dmc
from dash import dcc, html, page_container
from dash.development.base_component import Component

from dashboard import ids, texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.components.pieces import aria
from dashboard.data import Overview, block_names
from dashboard.words import day, shown

WEEK = timedelta(weeks=1)
NAME_IN_HEADER = 34
# Places in the navigation, the one that unfolds the others among them: on a phone and on a desk.
FOOT_PLACES, TOP_PLACES = 5, 7

# Mantine's own colours are not ours: one hue of ten shades each, from the style sheet's.
BLUE = (
    "#eaf3fb", "#d5e6f5", "#a9cdea", "#7bb2de", "#559cd4", "#3a8ac9", "#2f7fc1", "#246aa6",
    "#1b5585", "#123f65",
)  # fmt: skip
THEME = {
    "primaryColor": "orchard",
    "primaryShade": {"light": 7, "dark": 4},
    "colors": {"orchard": BLUE},
    "fontFamily": "system-ui, 'Segoe UI', Roboto, 'DejaVu Sans', sans-serif",
    "defaultRadius": 4,
    "focusRing": "auto",
}

# Of the date field, in its own language.


@dataclass(frozen=True)
class Frame:
    """What the frame shows for one address."""

    date: str
    latest: str
    site: str | None
    species: str | None
    cultivar: str | None
    block: str | None
    sites: list[dict[str, str]]
    all_species: list[dict[str, str]]
    cultivars: list[dict[str, str]]
    blocks: list[dict[str, str]]
    week_back: str
    week_on: str
    home_date: str
    away: bool
    """Whether the date shown is another than the orchard's own."""
    note: str
    trees_shown: str
    """Which trees pass the filters, in words."""


def layout(overview: Overview, pages: Sequence[tuple[str, str]], home: date) -> Component:
    """The whole document: header, main part, navigation at the thumb's end on a phone."""
    name = shown(overview.name or texts.APP_TITLE, NAME_IN_HEADER)
    document: Component = dmc.MantineProvider(
        dmc.AppShell(
            [
                dcc.Location(id=ids.ADDRESS, refresh="callback-nav"),
                html.A(texts.SKIP, href=f"#{ids.MAIN}", className="skip"),
                dmc.AppShellHeader(_header(name, pages)),
                dmc.AppShellMain(
                    html.Div(
                        [
                            _demo_note(overview, home),
                            html.Div(id=ids.ADDRESS_NOTE, className="address-note", role="status"),
                            _controls(overview.is_demo),
                            html.Div(page_container, id=ids.MAIN, tabIndex="-1"),
                        ],
                        className="sheet",
                    )
                ),
                dmc.AppShellFooter(
                    html.Nav(
                        id=ids.NAV_FOOT,
                        children=foot_links(pages, "", ""),
                        className="nav foot",
                        **aria(label=texts.NAV_LABEL),
                    ),
                    hiddenFrom="sm",
                ),
            ],
            header={"height": 52},
            footer={"height": {"base": 56, "sm": 0}},
            padding=0,
        ),
        theme=THEME,
        defaultColorScheme="auto",
    )
    return document


def top_links(pages: Sequence[tuple[str, str]], search: str, pathname: str) -> list[Component]:
    """A link to every page that keeps the view; those that find no place fold under one word."""
    return _folded(pages, search, pathname, TOP_PLACES)


def foot_links(pages: Sequence[tuple[str, str]], search: str, pathname: str) -> list[Component]:
    """As `top_links`, for a phone."""
    return _folded(pages, search, pathname, FOOT_PLACES)


def _folded(
    pages: Sequence[tuple[str, str]], search: str, pathname: str, places: int
) -> list[Component]:
    here = pathname.rstrip("/")
    links: list[Component] = [
        dcc.Link(
            texts.PAGE_NAMES[name],
            href=f"{path}{search}",
            className="here" if path.rstrip("/") == here else "",
            title=texts.PAGE_TITLES[name],
        )
        for name, path in pages
    ]
    if len(links) <= places:
        return links
    first, others = links[: places - 1], links[places - 1 :]
    inside = here in {path.rstrip("/") for _, path in pages[places - 1 :]}
    more = html.Details(
        [
            html.Summary(texts.MORE, className="here" if inside else ""),
            html.Div(others, className="others"),
        ],
        className="more",
        # Another page folds it again.
        key=pathname,
    )
    return [*first, more]


def frame(view: View, overview: Overview, home: date, latest: date) -> Frame:
    """What the controls show and offer for a view."""
    as_of = view.as_of or home
    trees = overview.trees
    in_site = trees if view.site is None else trees[trees["site"] == view.site]
    of_species = in_site if view.species is None else in_site[in_site["species"] == view.species]
    note = ""
    if view.refused is not None:
        note = texts.AS_OF_REFUSED.format(
            given=shown(view.refused), latest=latest.isoformat(), date=day(as_of)
        )
    return Frame(
        date=as_of.isoformat(),
        latest=latest.isoformat(),
        site=view.site,
        species=view.species,
        cultivar=view.cultivar,
        block=view.block,
        sites=_options(trees["site"], view.site),
        all_species=_options(in_site["species"], view.species),
        cultivars=_options(of_species["cultivar"], view.cultivar),
        blocks=_blocks(block_names(in_site).dropna(), view.block),
        week_back=view.but(as_of=as_of - WEEK).search(),
        week_on=view.but(as_of=min(as_of + WEEK, latest)).search(),
        home_date=view.but(as_of=None).search() or "?",
        away=as_of != home,
        note=note,
        trees_shown=_trees_shown(view),
    )


def _trees_shown(view: View) -> str:
    block = view.block and texts.BLOCK.format(name=view.block)
    chosen = [shown(name) for name in (view.site, view.species, view.cultivar, block) if name]
    return texts.TREES_SHOWN.format(which=", ".join(chosen) or texts.TREES_ALL)


def _options(names: Iterable[object], chosen: str | None) -> list[dict[str, str]]:
    """Choices in alphabetical order; what the address asks for is among them even if unknown."""
    every = {str(name) for name in names} | ({chosen} if chosen else set())
    return [{"value": name, "label": shown(name)} for name in sorted(every, key=str.casefold)]


def _blocks(names: Iterable[object], chosen: str | None) -> list[dict[str, str]]:
    """Rows or blocks in the order of their numbers."""
    found = _options(names, chosen)
    order = sorted(found, key=lambda each: (len(each["value"]), each["value"]))
    return [{**each, "label": texts.BLOCK.format(name=each["label"])} for each in order]


def _header(name: str, pages: Sequence[tuple[str, str]]) -> Component:
    return html.Div(
        [
            dcc.Link(html.Bdi(name), href=pages[0][1], id=ids.BRAND, className="brand"),
            html.Nav(
                id=ids.NAV_TOP,
                children=top_links(pages, "", ""),
                className="nav top",
                **aria(label=texts.NAV_LABEL),
            ),
            dmc.ColorSchemeToggle(
                lightIcon=html.Span("☀", **aria(hidden="true")),
                darkIcon=html.Span("☾", **aria(hidden="true")),
                variant="subtle",
                size=44,
                className="theme",
                **aria(label=texts.THEME_LABEL),
            ),
        ],
        className="head",
    )


def _demo_note(overview: Overview, home: date) -> Component | None:
    if not overview.is_demo:
        return None
    shown_date = day(overview.demo_as_of or home)
    return html.P(
        [
            texts.DEMO_NOTE.format(date=shown_date),
            html.Span(texts.DEMO_NOTE_MORE, className="wide-only"),
        ],
        id=ids.DEMO_NOTE,
        className="demo-note",
        role="note",
    )


def _controls(is_demo: bool) -> Component:
    selects = [
        _select(ids.SITE, texts.SITE_LABEL, texts.ALL_SITES),
        _select(ids.SPECIES, texts.SPECIES_LABEL, texts.ALL_SPECIES),
        _select(ids.CULTIVAR, texts.CULTIVAR_LABEL, texts.ALL_CULTIVARS),
        _select(ids.BLOCK, texts.BLOCK_LABEL, texts.ALL_BLOCKS),
    ]
    home = texts.HOME_DATE_DEMO if is_demo else texts.HOME_DATE
    steps = [
        _step("‹ " + texts.WEEK_BACK, ids.WEEK_BACK, texts.WEEK_BACK_LABEL),
        _step(texts.WEEK_ON + " ›", ids.WEEK_ON, texts.WEEK_ON_LABEL),
        _step(home, ids.HOME_DATE, home),
    ]
    return html.Div(
        [
            html.Div([_date_field(), html.Div(steps, className="steps")], className="when-bar"),
            html.Div(
                [
                    html.Details(html.Summary(id=ids.TREES_SHOWN), className="narrow-only"),
                    html.Div(selects),
                ],
                id=ids.FILTERS,
                className="filters",
            ),
        ],
        className="controls",
    )


def _date_field() -> Component:
    return pieces.date_field(
        ids.AS_OF, texts.AS_OF_LABEL, weekendDays=[], debounce=600, size="md",
        className="as-of-input",
    )  # fmt: skip


def _step(words: str, part: str, title: str) -> Component:
    return dcc.Link(words, id=part, href="", className="step", title=title)


def _select(part: str, label: str, everything: str) -> Component:
    select: Component = dmc.Select(
        id=part,
        placeholder=everything,
        attributes={"input": {"aria-label": label}},
        data=[],
        clearable=True,
        searchable=True,
        size="md",
        clearButtonProps={"aria-label": everything},
    )
    return select
