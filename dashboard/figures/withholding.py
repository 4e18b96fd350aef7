"""Waiting periods and picking windows of trees on one time axis."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import plotly.graph_objects as go

from dashboard import texts
from dashboard.figures import style
from dashboard.figures.windows import WIDE_DAYS
from dashboard.texts import may_i_pick as held_texts
from dashboard.views.windows import HIGH, LOW, LOWER, MIDDLE, UPPER, Window
from dashboard.views.withholding import HeldTree, Period
from dashboard.words import plot_text, short_day, short_span, week_start

MOST_ROWS = 80
ROW_HEIGHT = 62
TEXT_AT, WAIT_AT, RIPE_AT = -0.3, 0.03, 0.33
WAIT_WIDTH, RIPE_WIDTH = 0.22, 0.3
# The axis goes back no further than this [d], and at least so far ahead.
BACK_DAYS, AHEAD_DAYS = 75, 28
HALF_A_DAY = timedelta(hours=12)
Drawn = Sequence[tuple[int, HeldTree]]


def withholding_figure(trees: Sequence[HeldTree], as_of: date) -> go.Figure:
    """Rows in the order given, at most `MOST_ROWS`: waits above, ripe fruit below, both by date.

    What is ripe inside a wait is hatched; picks made inside one are crosses.
    """
    trees = trees[:MOST_ROWS]
    first = week_start(as_of)
    figure = style.blank(
        len(trees),
        height=len(trees) * ROW_HEIGHT + style.EDGE_HEIGHT,
        shapes=[
            style.shade(first, first + timedelta(days=7)),
            style.upright(as_of, style.LOGGED, 1.5, "dot"),
        ],
    )
    start, end = _range(trees, as_of)
    style.date_axis(figure, year=True, range=[start, end])
    rows = list(enumerate(trees))
    _waits(figure, rows, start, end)
    _ripening(figure, rows)
    _blocked(figure, rows, end)
    _picks(figure, rows, start)
    style.row_texts(
        figure,
        [_name(tree) for tree in trees],
        [_until(tree) for tree in trees],
        start,
        end,
        at=TEXT_AT,
    )
    return figure


def _range(trees: Sequence[HeldTree], as_of: date) -> tuple[date, date]:
    """First and last day of the axis: waits and ranges too long to be of use do not stretch it."""
    first = as_of - timedelta(days=BACK_DAYS)
    days = [as_of, as_of + timedelta(days=AHEAD_DAYS)]
    for tree in trees:
        days += [max(period.start, first) for period in tree.periods]
        days += [max(day, first) for day in tree.picked_inside]
        days += [tree.until] if tree.until else []
        if tree.window is not None:
            days += [max(day, first) for day in (*tree.window.ripe, *tree.window.picks)]
            if tree.window.quantiles and _near(tree.window, as_of):
                days.append(tree.window.quantiles[HIGH])
    return min(days) - timedelta(days=3), max(days) + timedelta(days=4)


def _near(window: Window, as_of: date) -> bool:
    return (window.quantiles[HIGH] - as_of).days <= WIDE_DAYS


def _waits(figure: go.Figure, rows: Drawn, start: date, end: date) -> None:
    for known in (True, False):
        drawn = [
            (at, tree, period)
            for at, tree in rows
            for period in tree.periods
            if (period.end is not None) is known and (period.end is None or period.end > start)
        ]
        first = [max(period.start, start) for _, _, period in drawn]
        last = [period.end or end for _, _, period in drawn]
        figure.add_bar(
            orientation="h",
            base=first,
            x=[(b - a).days * style.DAY_MS for a, b in zip(first, last, strict=True)],
            y=[at + WAIT_AT for at, _, _ in drawn],
            width=WAIT_WIDTH,
            marker=_wait_look(known),
            hovertext=[_hover(tree, period) for _, tree, period in drawn],
            hoverinfo="text",
            name=held_texts.KEY_WAIT if known else held_texts.KEY_UNREAD,
        )


def _wait_look(known: bool) -> dict[str, object]:
    line = {"color": style.QUIET, "width": 1.5}
    if known:
        return {"color": style.QUIET, "line": line}
    dots = {
        "shape": ".",
        "fgcolor": style.QUIET,
        "bgcolor": style.CLEAR,
        "size": 7,
        "solidity": 0.35,
    }
    return {"color": style.CLEAR, "line": line, "pattern": dots}


def _ripening(figure: go.Figure, rows: Drawn) -> None:
    """The forecast as on the picking page; a line from the first ripe date to the last pick."""
    drawn = [
        (at, tree.window.quantiles) for at, tree in rows if tree.window and tree.window.quantiles
    ]
    for first, last, colour, line in (
        (LOW, HIGH, style.FORECAST_FAINT, 1.2),
        (LOWER, UPPER, style.FORECAST, 0),
    ):
        figure.add_bar(
            orientation="h",
            base=[levels[first] for _, levels in drawn],
            x=[style.days_between(levels[first], levels[last]) for _, levels in drawn],
            y=[at + RIPE_AT for at, _ in drawn],
            width=RIPE_WIDTH,
            marker={"color": colour, "line": {"color": style.FORECAST, "width": line}},
            hovertext=[short_span(levels[first], levels[last]) for _, levels in drawn],
            hoverinfo="text",
        )
    figure.add_scatter(
        x=[levels[MIDDLE] + HALF_A_DAY for _, levels in drawn],
        y=[at + RIPE_AT for at, _ in drawn],
        mode="markers",
        marker=style.marker("diamond", style.PAPER, 10, color=style.INK, width=1.5),
        hoverinfo="skip",
    )
    x: list[date | None] = []
    y: list[float | None] = []
    for at, tree in rows:
        span = _ripe_span(tree)
        if span is not None and tree.window is not None and not tree.window.quantiles:
            x += [*span, None]
            y += [at + RIPE_AT, at + RIPE_AT, None]
    figure.add_scatter(
        x=x, y=y, mode="lines", line={"color": style.QUIET, "width": 3}, hoverinfo="skip"
    )


def _blocked(figure: go.Figure, rows: Drawn, end: date) -> None:
    """Hatched: the days on which the fruit is or may be ripe, and may not be picked."""
    drawn = []
    for at, tree in rows:
        span, waits = _ripe_span(tree), [p for p in tree.periods if not tree.may_be_picked]
        if span is None or not waits:
            continue
        first = max(span[0], min(period.start for period in waits))
        last = min(span[1], tree.until or end)
        if first < last:
            drawn.append((at, tree, first, last))
    figure.add_bar(
        orientation="h",
        base=[first for _, _, first, _ in drawn],
        x=[(last - first).days * style.DAY_MS for _, _, first, last in drawn],
        y=[at + RIPE_AT for at, _, _, _ in drawn],
        width=RIPE_WIDTH,
        marker=style.hatched(),
        hovertext=[_until(tree) for _, tree, _, _ in drawn],
        hoverinfo="text",
        name=texts.KEY_BLOCKED,
    )


def _ripe_span(tree: HeldTree) -> tuple[date, date] | None:
    """First and last day on which the tree's fruit is, or may be, ripe."""
    window = tree.window
    if window is None:
        return None
    first = window.ripe[0] if window.ripe else window.quantiles.get(LOW)
    last = window.last_pick or window.quantiles.get(HIGH)
    if first is None or last is None:
        return None
    if window.quantiles:
        last = max(window.quantiles[HIGH] + timedelta(days=1), first)
    return first, last


def _picks(figure: go.Figure, rows: Drawn, start: date) -> None:
    points = [
        (day, at, day in tree.picked_inside)
        for at, tree in rows
        for day in sorted({*tree.picked_inside, *(tree.window.picks if tree.window else ())})
        if day >= start
    ]
    for inside, look in (
        (False, style.marker("triangle-up", style.LOGGED, 9, color=style.PAPER, width=1)),
        (True, style.marker("x", style.HARM, 13, color=style.PAPER, width=1)),
    ):
        chosen = [(day, at) for day, at, wrong in points if wrong is inside]
        figure.add_scatter(
            x=[day + HALF_A_DAY for day, _ in chosen],
            y=[at + RIPE_AT for _, at in chosen],
            mode="markers",
            marker=look,
            hovertext=[short_day(day) for day, _ in chosen],
            hoverinfo="text",
            name=held_texts.KEY_TOO_SOON if inside else texts.KEY_PICK,
        )


def _name(tree: HeldTree) -> str:
    return f"<b>{plot_text(tree.answer.tree, 12)}</b> {plot_text(tree.answer.cultivar, 16)}"


def _until(tree: HeldTree) -> str:
    if tree.may_be_picked:
        return held_texts.KEY_TOO_SOON
    if tree.until is None:
        return texts.BLOCKED_UNKNOWN
    return texts.BLOCKED_UNTIL.format(date=short_day(tree.until))


def _hover(tree: HeldTree, period: Period) -> str:
    said = held_texts.KEY_UNREAD if period.end is None else short_span(period.start, period.end)
    return f"{plot_text(tree.answer.tree)}: {plot_text(period.product)}, {said}"
