"""The dashboard as an app: pages registered one by one, the frame steered by the address."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from threading import Thread
from typing import Any, cast

import dash
import flask
from dash import Dash, Input, Output, ctx, no_update
from dash.development.base_component import Component

from dashboard import downloads, ids, offline, security, signing_in, taking_out, texts, ways
from dashboard.address import View, view_of, view_of_search
from dashboard.components import pieces, shell
from dashboard.data import HarvestError, Orchard, block_names
from dashboard.downloads import file_name
from dashboard.pages import PAGES, Page, first_use, not_found
from dashboard.source import Source
from dashboard.texts import downloads as download_texts
from dashboard.words import day, shown

THREADS = 4
# Where the app keeps what it shows.
SOURCE = "orchard-source"
# The name by which Dash knows the page for addresses that are no page's.
NOT_FOUND = "dashboard.pages.not_found_404"
DOCUMENT = """<!DOCTYPE html>
<html lang="en">
    <head>
        {%metas%}
        <title>{%title%}</title>
        {%favicon%}
        {%css%}
    </head>
    <body>
        {%app_entry%}
        <div class="machinery">
            {%config%}
            {%scripts%}
            {%renderer%}
        </div>
    </body>
</html>"""


def create_app(
    orchard: Orchard,
    *,
    today: Callable[[], date],
    as_of: date | None = None,
    url_prefix: str = "/",
    accounts: bool = False,
    hosts: Sequence[str] | None = security.LOOPBACK,
) -> Dash:
    """Make the app for one orchard. Starts nothing.

    Parameters
    ----------
    orchard : the open orchard.
    today : gives the present date; asked anew for every view.
    as_of : date shown when an address names none; without it the demo's own date, or today.
    url_prefix : path the app lives under, beginning and ending with `/`.
    accounts : whether everyone has to sign in.
    hosts : names under which browsers may ask for the app; None for any.
    """
    source = Source(orchard, today, as_of)
    dash.page_registry.clear()
    app = Dash(
        "dashboard",
        use_pages=True,
        pages_folder="",
        assets_folder=str(Path(__file__).parent / "assets"),
        url_base_pathname=url_prefix,
        compress=True,
        title=texts.APP_TITLE,
        update_title="",
        include_pages_meta=False,
        index_string=DOCUMENT,
        meta_tags=[
            {"name": "viewport", "content": "width=device-width, initial-scale=1"},
            {"name": "color-scheme", "content": "light dark"},
        ],
        # Dash would otherwise make every page before it answers the first request. A test sees to
        # it that every id a callback names is on a page.
        suppress_callback_exceptions=True,
    )
    pages = [(page.name, url_prefix.rstrip("/") + page.path) for page in PAGES]
    _register(pages)
    app.layout = lambda: shell.layout(
        source.overview(source.home_date()), pages, source.home_date()
    )
    _connect(app, source, pages)
    for page in PAGES:
        if page.connect is not None:
            page.connect(app, source)
    downloads.connect(app)
    taking_out.connect(app, source)
    offline.connect(app)
    _protect(app, source, hosts, accounts=accounts)
    app.server.extensions[SOURCE] = source
    return app


def _register(places: list[tuple[str, str]]) -> None:
    """Give every page its place. The register is one for all apps of the process, so its pages ask
    the app that is answering for its orchard. `places`: every page's name and whole path."""
    for order, page in enumerate(PAGES):
        dash.register_page(  # type: ignore[no-untyped-call]
            f"dashboard.pages.{page.name}",
            path=page.path,
            name=texts.PAGE_NAMES[page.name],
            title=_title(page),
            description=texts.PAGE_TITLES[page.name],
            order=order,
            layout=page_layout(_answering, page),
        )
    dash.register_page(  # type: ignore[no-untyped-call]
        NOT_FOUND,
        path="/not-found",
        title=f"{texts.NOT_FOUND_TITLE} · {texts.APP_TITLE}",
        layout=lambda **_query: not_found.render(places),
    )


def _protect(app: Dash, source: Source, hosts: Sequence[str] | None, *, accounts: bool) -> None:
    """Let in only our own pages and, with accounts, only who is signed in."""
    security.guard(app, hosts)
    if accounts:
        signing_in.connect(app, source)
    ways.connect(app, source)


PROXY = {
    "trusted_proxy": "*",
    "trusted_proxy_count": 1,
    "trusted_proxy_headers": "x-forwarded-for x-forwarded-host x-forwarded-proto",
}


def ready(source: Source) -> None:
    """Work out what the first pages show, in the weeks that this orchard has chosen."""
    ways.choose(source.orchard)
    source.prepare()


def serve(app: Dash, host: str, port: int, *, proxied: bool = False) -> None:
    """Serve the app until it is stopped; meanwhile what the first pages show is worked out.

    `proxied`: one reverse proxy stands in front, and is believed what it says of address, name
    and encryption.
    """
    import scipy.linalg  # noqa: F401  (its own linear algebra is to be held back too)
    from threadpoolctl import threadpool_limits
    from waitress import serve as waitress_serve

    # The matrices here are small: more threads on one of them only wait for each other.
    with threadpool_limits(1):
        Thread(target=ready, args=(app.server.extensions[SOURCE],), daemon=True).start()
        waitress_serve(
            app.server,
            host=host,
            port=port,
            threads=THREADS,
            ident=None,
            **(PROXY if proxied else {}),
        )


def _answering() -> Source:
    """The orchard of the app that is answering."""
    return cast(Source, flask.current_app.extensions[SOURCE])


def page_layout(source_of: Callable[[], Source], page: Page) -> Callable[..., Component]:
    """What makes a page from the address's query."""

    def layout(**query: str) -> Component:
        source = source_of()
        try:
            view = source.view(query)
            date_shown = view.as_of or source.home_date()
            if page.filters and first_use.wanted(source, query, date_shown):
                return first_use.render(source, query, date_shown)
            return _named(source, page, date_shown, page.render(source, view))
        except HarvestError as error:
            return pieces.page(texts.FAILED, pieces.answer(str(error)))

    return layout


def _named(source: Source, page: Page, shown_date: date, content: Component) -> Component:
    """A page whose tables and figures, saved as files, say of which orchard, page and date."""
    orchard = shown(source.overview(source.home_date()).name or texts.APP_TITLE)
    file = file_name(orchard, texts.PAGE_NAMES[page.name]) + f"-{shown_date.isoformat()}"
    said = download_texts.SAID.format(
        orchard=orchard, page=texts.PAGE_TITLES[page.name], date=day(shown_date)
    )
    return pieces.named(content, file, said)


def _title(page: Page) -> Callable[..., str]:
    """What makes the title of the browser's window."""

    def title(**_path: str) -> str:
        source = _answering()
        name = source.overview(source.home_date()).name
        return f"{texts.PAGE_NAMES[page.name]} · {shown(name) if name else texts.APP_TITLE}"

    return title


def _connect(app: Dash, source: Source, pages: list[tuple[str, str]]) -> None:
    """Hang the frame on the address, which it reads and writes."""

    @app.callback(
        Output(ids.ADDRESS, "search"),
        Output(ids.AS_OF, "value"),
        Output(ids.AS_OF, "maxDate"),
        Output(ids.SITE, "value"),
        Output(ids.SPECIES, "value"),
        Output(ids.CULTIVAR, "value"),
        Output(ids.BLOCK, "value"),
        Output(ids.SITE, "data"),
        Output(ids.SPECIES, "data"),
        Output(ids.CULTIVAR, "data"),
        Output(ids.BLOCK, "data"),
        Output(ids.WEEK_BACK, "href"),
        Output(ids.WEEK_ON, "href"),
        Output(ids.HOME_DATE, "href"),
        Output(ids.HOME_DATE, "className"),
        Output(ids.ADDRESS_NOTE, "children"),
        Output(ids.NAV_TOP, "children"),
        Output(ids.NAV_FOOT, "children"),
        Output(ids.FILTERS, "className"),
        Output(ids.TREES_SHOWN, "children"),
        Input(ids.ADDRESS, "pathname"),
        Input(ids.ADDRESS, "search"),
        Input(ids.AS_OF, "value"),
        Input(ids.SITE, "value"),
        Input(ids.SPECIES, "value"),
        Input(ids.CULTIVAR, "value"),
        Input(ids.BLOCK, "value"),
    )
    def steer(
        pathname: str,
        search: str | None,
        as_of: str | None,
        site: str | None,
        species: str | None,
        cultivar: str | None,
        block: str | None,
    ) -> tuple[Any, ...]:
        chosen = (as_of, site, species, cultivar, block) if _by_hand(ctx.triggered_id) else None
        return steering(source, pages, pathname, search, chosen)


def _by_hand(triggered: object) -> bool:
    """Whether a control was used, rather than the address."""
    return triggered in (ids.AS_OF, ids.SITE, ids.SPECIES, ids.CULTIVAR, ids.BLOCK)


Chosen = tuple[str | None, str | None, str | None, str | None, str | None]


def steering(
    source: Source,
    pages: list[tuple[str, str]],
    pathname: str,
    search: str | None,
    chosen: Chosen | None,
) -> tuple[Any, ...]:
    """The frame for an address; where controls were used (`chosen`), the address they ask for."""
    home, latest = source.home_date(), source.latest_date()
    view = view_of_search(search, latest)
    if chosen is not None:
        view = _chosen_view(view, chosen, home, latest)
    known = source.overview(view.as_of or home)
    if chosen is not None:
        view = _possible(view, known.trees)
    seen = shell.frame(view, known, home, latest)
    filters = _has_filters(pages, pathname or "")
    return (
        view.search() if chosen is not None else no_update,
        seen.date,
        seen.latest,
        seen.site,
        seen.species,
        seen.cultivar,
        seen.block,
        seen.sites,
        seen.all_species,
        seen.cultivars,
        seen.blocks,
        seen.week_back,
        seen.week_on,
        seen.home_date,
        "step" if seen.away else "step away",
        seen.note,
        shell.top_links(pages, view.search(), pathname or ""),
        shell.foot_links(pages, view.search(), pathname or ""),
        "filters" if filters else "filters away",
        seen.trees_shown,
    )


def _chosen_view(view: View, chosen: Chosen, home: date, latest: date) -> View:
    as_of, site, species, cultivar, block = chosen
    picked = view_of({"as_of": as_of}, latest).as_of if as_of else None
    return view.but(
        as_of=None if picked == home else picked,
        site=site,
        species=species,
        cultivar=cultivar,
        block=block,
    )


def _possible(view: View, trees: Any) -> View:
    """The view without a filter that lets nothing through where those before it point."""
    trees = trees.assign(block=block_names(trees))
    for column in ("site", "species", "cultivar", "block"):
        wanted = getattr(view, column)
        if wanted is None:
            continue
        left = trees[trees[column] == wanted]
        if left.empty:
            view = view.but(**{column: None})
        else:
            trees = left
    return view


def _has_filters(pages: list[tuple[str, str]], pathname: str) -> bool:
    by_name = {page.name: page.filters for page in PAGES}
    here = pathname.rstrip("/")
    return any(by_name[name] and path.rstrip("/") == here for name, path in pages)
