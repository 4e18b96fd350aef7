"""On the page of waiting periods: the last day to use something before picking."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard.address import View
from dashboard.components import pieces
from dashboard.data import LastSprayDay
from dashboard.source import Source
from dashboard.texts import may_i_pick as words
from dashboard.views.withholding import readable
from dashboard.words import listing, percent, shown

MOST_LINES, LONGEST = 8, 730
STRICT = 0.05


def section(source: Source, view: View, as_of: date) -> Component:
    """A form for a product and its days; below it the last days, once both are given."""
    product, typed = view.choice("product"), view.choice("label_days")
    answer = _answer(source, view, as_of, product, typed) if product and typed else []
    parts = pieces.section(words.LAST_TITLE, html.P(words.LAST_NOTE), _form(view), *answer)
    return html.Div(parts, className="" if answer else "no-print")


def _form(view: View) -> Component:
    kept = {
        "as_of": view.as_of.isoformat() if view.as_of else None,
        "site": view.site, "species": view.species, "cultivar": view.cultivar,
    }  # fmt: skip
    return html.Form(
        [
            html.Div(
                [
                    dmc.TextInput(
                        label=words.LAST_PRODUCT, name="product", required=True,
                        value=view.choice("product") or "",
                    ),
                    dmc.TextInput(
                        label=words.LAST_DAYS, name="label_days", required=True,
                        value=view.choice("label_days") or "",
                    ),
                ],
                className="planting-what",
            ),
            *(dcc.Input(type="hidden", name=name, value=value) for name, value in kept.items()
              if value),
            html.Button(words.LAST_SHOW, type="submit", className="choice"),
        ],
        method="GET",
        className="planting-form",
    )  # fmt: skip


def _answer(source: Source, view: View, as_of: date, product: str, typed: str) -> list[Component]:
    days = int(typed) if typed.isascii() and typed.isdigit() else -1
    if not 0 <= days <= LONGEST:
        return [html.P(words.LAST_BAD, role="alert")]
    rows = view.keep(source.spray_by(as_of, product, days))
    if not rows:
        return [html.P(words.LAST_NONE)]
    sure = [row for row in rows if row.chance_ripe_before_end == STRICT]
    none_left = [shown(row.tree) for row in sure if row.last_day is None]
    strict = sorted(
        (row for row in sure if row.last_day),
        key=lambda row: (row.last_day or date.max, row.tree),
    )
    lines = [
        html.Li(
            words.LAST_LINE.format(
                tree=shown(row.tree), cultivar=shown(row.cultivar),
                says=readable(row.says, [product]),
            )
        )
        for row in strict[:MOST_LINES]
    ]  # fmt: skip
    more = words.LAST_MORE.format(shown=MOST_LINES, total=len(strict))
    no_day = words.LAST_NO_DAY.format(trees=listing(none_left, MOST_LINES), chance=percent(STRICT))
    return [
        html.P(html.Strong(no_day)) if none_left else html.Span(),
        html.Ul(lines),
        html.P(more, className="quiet") if len(strict) > MOST_LINES else html.Span(),
        pieces.table(table_rows(rows), words.LAST_COLUMNS, "last-day", words.LAST_TABLE),
    ]


def table_rows(rows: Sequence[LastSprayDay]) -> list[dict[str, object]]:
    """A row for each tree, a column for each chance."""
    found: dict[tuple[str, int], dict[str, object]] = {}
    for row in rows:
        one = found.setdefault(
            (row.tree, row.season),
            {"tree": shown(row.tree), "cultivar": shown(row.cultivar), "site": shown(row.site)},
        )
        name = f"at_{round(100 * row.chance_ripe_before_end)}"
        one[name] = row.last_day.isoformat() if row.last_day else words.LAST_GONE
    return list(found.values())
