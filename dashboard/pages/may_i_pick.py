"""May I pick this tree yet: waiting periods as logged, beside when the fruit is ripe."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from dash import html
from dash.development.base_component import Component

from dashboard import texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.components.pieces import aria
from dashboard.data import SPRAY_CAUTIONS, Withholding
from dashboard.figures.withholding import MOST_ROWS, withholding_figure
from dashboard.measures import retold
from dashboard.pages import last_spray
from dashboard.pages.picking import window_rows
from dashboard.source import Source
from dashboard.texts import may_i_pick as held_texts
from dashboard.views.withholding import (
    HeldTree,
    Reason,
    TooSoon,
    grouped,
    held_trees,
    reasons,
    told_clear,
    too_soon,
)
from dashboard.words import count, day, listing, percent, shown

NAMES_IN_SENTENCE, REASONS_IN_SENTENCE, NAMES_IN_LIST = 4, 5, 40
SIGNS = (
    ("wait", held_texts.KEY_WAIT),
    ("unread", held_texts.KEY_UNREAD),
    ("band80", texts.KEY_RANGE_80),
    ("band50", texts.KEY_RANGE_50),
    ("blocked", texts.KEY_BLOCKED),
    ("too-soon", held_texts.KEY_TOO_SOON),
    ("pick", texts.KEY_PICK),
    ("as-of", texts.KEY_AS_OF),
)


def render(source: Source, view: View) -> Component:
    """The page as known on the view's date."""
    as_of = view.as_of or source.home_date()
    answers = view.keep(source.withholding(as_of))
    if not answers:
        return pieces.page(texts.PAGE_TITLES["may_i_pick"], pieces.no_match(), _cautions())
    standing = [answer for answer in answers if answer.removed is None]
    alarms = too_soon(answers)
    trees = held_trees(standing, window_rows(source, view.but(rows="trees"), as_of))
    return pieces.page(
        texts.PAGE_TITLES["may_i_pick"],
        pieces.answer(sentence(standing, as_of)),
        *(_alarm(each, as_of) for each in alarms if each.may_be_kept(as_of)),
        _picture(trees, as_of),
        _why(trees, as_of),
        *(_alarm(each, as_of) for each in alarms if not each.may_be_kept(as_of)),
        last_spray.section(source, view, as_of),
        _cautions(),
        _clear(standing),
        pieces.table(table_rows(answers), held_texts.HELD_COLUMNS, "may-i-pick", texts.TABLE_TITLE),
    )


def sentence(answers: Sequence[Withholding], as_of: date) -> str:
    """Which trees may not be picked on the day, and why."""
    trees = count(len(answers), texts.TREE_ONE, texts.TREE_MANY)
    found = reasons(answers)
    if not found:
        return held_texts.MAY_ALL.format(trees=trees, date=day(as_of))
    told = [_reason(each, as_of) for each in found[:REASONS_IN_SENTENCE]]
    left = sum(len(each.trees) for each in found[REASONS_IN_SENTENCE:])
    if left:
        told.append(held_texts.MAY_NOT_MORE.format(count=left))
    return held_texts.MAY_NOT.format(
        count=sum(len(each.trees) for each in found),
        trees=trees,
        date=day(as_of),
        reasons="; ".join(told),
    )


def _reason(reason: Reason, as_of: date) -> str:
    template = held_texts.MAY_NOT_UNREAD if reason.until is None else held_texts.MAY_NOT_WAIT
    return template.format(
        names=listing([shown(tree) for tree in reason.trees], NAMES_IN_SENTENCE),
        until=day(reason.until, as_of) if reason.until else "",
        product=shown(reason.product),
        sprayed=day(reason.sprayed, as_of),
    )


def _alarm(found: TooSoon, as_of: date) -> Component:
    """Picks made too soon: in red, in words, and with what to do."""
    picks = [f"{shown(tree)} {day(when, as_of)}" for tree, when in found.picks]
    said = held_texts.TOO_SOON_PICKS.format(picks=listing(picks))
    title = held_texts.TOO_SOON_TITLE if found.known else held_texts.TOO_SOON_TITLE_UNKNOWN
    which: Component = html.P(said)
    if len(picks) > NAMES_IN_SENTENCE:
        which = html.Details([html.Summary(f"{held_texts.PICKS_COUNTED} ({len(picks)})"), which])
    return pieces.notice(title, [html.P(found.says), which], kind="harm")


def _picture(trees: Sequence[HeldTree], as_of: date) -> Component | None:
    if not trees:
        return None
    caption = held_texts.HELD_CAPTION
    if len(trees) > MOST_ROWS:
        caption += " " + texts.MORE_ROWS.format(shown=MOST_ROWS, total=len(trees))
    figure = withholding_figure(trees, as_of)
    return pieces.section(
        held_texts.HELD_PICTURE,
        pieces.picture(figure, caption, SIGNS, "may-i-pick", label=held_texts.HELD_LABEL),
    )


def _why(trees: Sequence[HeldTree], as_of: date) -> Component | None:
    """What the picture says, in words: for each tree why and until when."""
    groups = grouped(trees)
    if not groups:
        return None
    cards = [_card(told, own, as_of) for told, own in groups.items()]
    return pieces.section(held_texts.HELD_WHY, html.Ul(cards, className="cards"))


def _card(told: Sequence[str], trees: Sequence[HeldTree], as_of: date) -> Component:
    first = trees[0]
    sign = "unread" if first.until is None else "wait"
    names = [f"{shown(tree.answer.tree)} {shown(tree.answer.cultivar)}" for tree in trees]
    when = texts.BLOCKED_UNTIL.format(date=day(first.until, as_of)) if first.until else ""
    return html.Li(
        [
            html.Span(className=f"sign {sign}", **aria(hidden="true")),
            html.Div(
                [
                    html.H3(
                        [
                            html.Span(
                                held_texts.HELD_CARD[first.answer.status], className="advice-name"
                            ),
                            html.Span(when, className="how-many") if when else None,
                        ]
                    ),
                    html.P(
                        [
                            html.Strong(html.Bdi(listing(names, NAMES_IN_LIST))),
                            f" · {shown(first.answer.site)}",
                        ],
                        className="who",
                    ),
                    html.Ul([html.Li(text) for text in told], className="why"),
                ]
            ),
        ],
        className="card held" if first.answer.clashes_with_forecast else "card",
    )


def _cautions() -> Component:
    """The cautions, word for word."""
    return pieces.notice(
        held_texts.CAUTIONS_TITLE,
        [html.Ul([html.Li(retold(text)) for text in SPRAY_CAUTIONS])],
        kind="danger",
    )


def _clear(answers: Sequence[Withholding]) -> Component | None:
    groups = told_clear(answers)
    if not groups:
        return None
    number = sum(len(trees) for trees in groups.values())
    entries = [
        html.Li(
            [
                html.Span(" ".join(told), className="reason"),
                html.Br(),
                html.Span(listing([shown(tree) for tree in trees]), className="names"),
            ]
        )
        for told, trees in groups.items()
    ]
    return html.Details(
        [
            html.Summary(held_texts.CLEAR_TITLE.format(count=number)),
            html.Ul(entries, className="unknown"),
        ],
        className="fold",
    )


def table_rows(answers: Sequence[Withholding]) -> list[dict[str, object]]:
    """The answers as rows of a table, those that may not be picked first."""
    return [
        {
            "tree": shown(answer.tree),
            "cultivar": shown(answer.cultivar),
            "species": shown(answer.species),
            "site": shown(answer.site),
            "status": held_texts.HELD_STATUS[answer.status],
            "earliest": _earliest(answer),
            "because": "; ".join(
                held_texts.BECAUSE.format(
                    product=shown(each.product),
                    date=each.date.isoformat(),
                    days=held_texts.BECAUSE_UNKNOWN
                    if each.withholding_days is None
                    else count(each.withholding_days, *held_texts.BECAUSE_DAYS),
                )
                for each in answer.because
            ),
            "ripe_from": answer.ripe_from.isoformat() if answer.ripe_from else "",
            "ripe_to": answer.ripe_to.isoformat() if answer.ripe_to else "",
            "chance": _chance(answer),
            "clash": texts.YES if answer.clashes_with_forecast else texts.NO,
            "inside": _days(answer, known=True),
            "unsure": _days(answer, known=False),
        }
        for answer in sorted(answers, key=lambda each: each.status == "clear")
    ]


def _earliest(answer: Withholding) -> str:
    if answer.status == "unknown":
        return texts.BLOCKED_UNKNOWN
    return answer.earliest_pick.isoformat() if answer.earliest_pick else ""


def _chance(answer: Withholding) -> str:
    share = answer.chance_ripe_before
    return "" if share is None else percent(share)


def _days(answer: Withholding, *, known: bool) -> str:
    days = {p.date for p in answer.picked_inside if (p.earliest_pick is not None) is known}
    return ", ".join(day.isoformat() for day in sorted(days))
