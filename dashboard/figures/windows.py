"""The picking windows of one site on one time axis."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta

import plotly.graph_objects as go

from dashboard import texts
from dashboard.figures import style
from dashboard.texts import STATE_NAMES, TREE_MANY, WINDOW_SINCE
from dashboard.texts import figures as figure_texts
from dashboard.views.windows import HIGH, LOW, LOWER, MIDDLE, UPPER, Window
from dashboard.words import plot_text, short_day, short_span, week_start

MOST_ROWS = 120
# Fewest days the axis spans: below that, weeks would be drawn as wide as months.
LEAST_DAYS = 42
# A range wider than this [d] is cut off at the edge, with an arrow.
WIDE_DAYS = 60


def windows_figure(rows: Sequence[Window], as_of: date) -> go.Figure:
    """Bars of 80 % and 50 % with the median, logged ripe dates and picks, the view's own date.

    Rows are drawn in the order given, at most `MOST_ROWS` of them.
    """
    rows = rows[:MOST_ROWS]
    figure = style.blank(len(rows), shapes=_now(as_of))
    start, end = _range(rows, as_of)
    style.date_axis(figure, year=True, range=[start, end])
    named = Counter(row.name for row in rows)
    _periods(figure, rows)
    _bands(figure, rows)
    _blocked(figure, rows, end)
    _marks(figure, rows)
    _cut_off(figure, rows, end)
    style.row_texts(
        figure,
        [_name(row, named[row.name] > 1) for row in rows],
        [_dates(row) for row in rows],
        start,
        end,
    )
    return figure


def _range(rows: Sequence[Window], as_of: date) -> tuple[date, date]:
    """First and last day of the axis; ranges too wide to be of use do not stretch it."""
    days = [as_of]
    for row in rows:
        days += [*row.ripe, *row.picks]
        if row.quantiles:
            narrow = (row.quantiles[HIGH] - row.quantiles[LOW]).days <= WIDE_DAYS
            days += [row.quantiles[LOW], row.quantiles[HIGH if narrow else LOWER]]
        elif row.last_pick is not None:
            days.append(row.last_pick)
    first, last = min(days) - timedelta(days=4), max(days) + timedelta(days=4)
    return first, max(last, first + timedelta(days=LEAST_DAYS))


def _now(as_of: date) -> list[dict[str, object]]:
    """The view's date, and the week it lies in."""
    first = week_start(as_of)
    return [
        style.shade(first, first + timedelta(days=7)),
        style.upright(as_of, style.LOGGED, 1.5, "dot"),
    ]


def _periods(figure: go.Figure, rows: Sequence[Window]) -> None:
    """From the first ripe date, or from the end of the range, to the last pick."""
    x: list[date | None] = []
    y: list[float | None] = []
    for at, row in enumerate(rows):
        first = row.ripe[0] if row.ripe else row.quantiles.get(HIGH)
        if first is not None and not row.ripe:
            first += timedelta(days=1)
        if first is not None and row.last_pick is not None and row.last_pick > first:
            x += [first, row.last_pick, None]
            y += [at + style.BAND_AT, at + style.BAND_AT, None]
    figure.add_scatter(
        x=x,
        y=y,
        mode="lines",
        line={"color": style.QUIET, "width": 3},
        hoverinfo="skip",
        name="period",
    )


def _bands(figure: go.Figure, rows: Sequence[Window]) -> None:
    drawn = [(at, row) for at, row in enumerate(rows) if row.quantiles]
    for first, last, colour, line, name in (
        (LOW, HIGH, style.FORECAST_FAINT, 1.2, "80 %"),
        (LOWER, UPPER, style.FORECAST, 0, "50 %"),
    ):
        figure.add_bar(
            orientation="h",
            base=[row.quantiles[first] for _, row in drawn],
            x=[style.days_between(row.quantiles[first], row.quantiles[last]) for _, row in drawn],
            y=[at + style.BAND_AT for at, _ in drawn],
            width=style.BAND_WIDTH,
            marker={"color": colour, "line": {"color": style.FORECAST, "width": line}},
            hovertext=[_hover(row) for _, row in drawn],
            hoverinfo="text",
            name=name,
        )
    figure.add_scatter(
        x=[row.quantiles[MIDDLE] + timedelta(hours=12) for _, row in drawn],
        y=[at + style.BAND_AT for at, _ in drawn],
        mode="markers",
        marker=style.marker("diamond", style.PAPER, 11, color=style.INK, width=1.5),
        hovertext=[_hover(row) for _, row in drawn],
        hoverinfo="text",
        name="median",
    )


def _blocked(figure: go.Figure, rows: Sequence[Window], end: date) -> None:
    """Hatched: the days on which fruit is or may be ripe, and may not be picked.

    Half the band's height where that is so of some of a row's trees only.
    """
    drawn = []
    for at, row in enumerate(rows):
        first = row.ripe[0] if row.ripe else row.quantiles.get(LOW)
        if not row.blocked or first is None:
            continue
        last = row.quantiles.get(HIGH) or row.last_pick or end
        until = row.blocked_until
        last = last + timedelta(days=1) if until is None else min(until, last + timedelta(days=1))
        drawn.append((at, row, first, max(last, first + timedelta(days=1))))
    figure.add_bar(
        orientation="h",
        base=[first for _, _, first, _ in drawn],
        x=[(last - first).days * style.DAY_MS for _, _, first, last in drawn],
        y=[
            at + style.BAND_AT + (0 if row.all_blocked else style.BAND_WIDTH / 4)
            for at, row, *_ in drawn
        ],
        width=[style.BAND_WIDTH / (1 if row.all_blocked else 2) for _, row, *_ in drawn],
        marker=style.hatched(),
        hovertext=[blocked_short(row) for _, row, *_ in drawn],
        hoverinfo="text",
        name="blocked",
    )


def blocked_short(row: Window) -> str:
    """That a row is blocked, and until when: how many of its trees, where not all are."""
    if not row.all_blocked:
        return texts.BLOCKED_SOME.format(count=len(row.blocked), trees=len(row.trees))
    if row.blocked_until is None:
        return texts.BLOCKED_SHORT_UNKNOWN
    return texts.BLOCKED_SHORT.format(date=short_day(row.blocked_until))


def _marks(figure: go.Figure, rows: Sequence[Window]) -> None:
    for name, symbol, size in (("pick", "triangle-up", 9), ("ripe", "circle", 12)):
        points = [
            (day, at, row)
            for at, row in enumerate(rows)
            for day in (row.picks if name == "pick" else row.ripe)
        ]
        figure.add_scatter(
            x=[day + timedelta(hours=12) for day, _, _ in points],
            y=[at + style.BAND_AT for _, at, _ in points],
            mode="markers",
            marker=style.marker(symbol, style.LOGGED, size, color=style.PAPER, width=1),
            hovertext=[f"{plot_text(row.name)}: {name} {short_day(day)}" for day, _, row in points],
            hoverinfo="text",
            name=name,
        )


def _cut_off(figure: go.Figure, rows: Sequence[Window], end: date) -> None:
    """An arrow where a range goes on beyond the axis."""
    beyond = [at for at, row in enumerate(rows) if row.quantiles and row.quantiles[HIGH] > end]
    figure.add_scatter(
        x=[end] * len(beyond),
        y=[at + style.BAND_AT for at in beyond],
        mode="markers",
        marker=style.marker("triangle-right", style.FORECAST, 14),
        cliponaxis=False,
        hoverinfo="skip",
        name="goes on",
    )


def _name(row: Window, twice: bool) -> str:
    """The row's name; with its season where another row of the name is of another season."""
    season = f" {row.label}" if twice else ""
    if row.single:
        return f"<b>{plot_text(row.name, 12)}</b> {plot_text(row.cultivar, 18)}{season}"
    trees, dated = len(row.trees), len(row.trees) - len(row.unknown_trees)
    said = "" if trees == 1 else f" {trees} {TREE_MANY}"
    if 0 < dated < trees:
        said = figure_texts.SOME_OF.format(some=dated, all=trees, trees=TREE_MANY)
    return f"<b>{plot_text(row.cultivar, 22)}</b>{season or said}"


def _dates(row: Window) -> str:
    if row.blocked:
        return f"<b>{blocked_short(row)}</b>"
    if row.state == "over" and row.last_pick is not None:
        return short_span(row.ripe[0], row.last_pick)
    if row.ripe:
        return WINDOW_SINCE.format(date=short_day(row.ripe[0]))
    if row.quantiles:
        return short_span(row.quantiles[LOW], row.quantiles[HIGH])
    return STATE_NAMES[row.state]


def _hover(row: Window) -> str:
    parts = [f"<b>{plot_text(row.name)}</b> {plot_text(row.species)}"]
    if row.likeliest_week is not None:
        first, chance = row.likeliest_week
        parts.append(figure_texts.LIKELIEST.format(week=short_day(first), chance=f"{chance:.0%}"))
    wide = short_span(row.quantiles[LOW], row.quantiles[HIGH])
    narrow = short_span(row.quantiles[LOWER], row.quantiles[UPPER])
    parts.append(figure_texts.FOUR_IN_FIVE.format(span=wide))
    parts.append(figure_texts.ONE_IN_TWO.format(span=narrow))
    return "<br>".join(parts)
