"""Thinning of trees that keep a crop, advice that was overruled, and whether stripping paid."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from dashboard import measures, texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.data import Overrule, StripPaid, ThinningPlan
from dashboard.measures import kilograms
from dashboard.source import Source
from dashboard.texts import young as young_texts
from dashboard.views.thinning import ORDER, Thinned, plans_by_state
from dashboard.views.trees import trees_kept
from dashboard.words import count, day, shown

PLACE, ASKED = "thinning", "thinning-asked"
MOST_CARDS = 60


def place(view: View) -> Component:
    """Where the plans appear; `view` names their date."""
    return html.Div(
        [
            dcc.Store(id=ASKED, data=view.search()),
            html.Div(pieces.section(young_texts.THIN_TITLE, html.P(young_texts.WORKING)), id=PLACE),
        ]
    )


def connect(app: Dash, source: Source) -> None:
    """Fill the place once the page is there."""

    @app.callback(Output(PLACE, "children"), Input(ASKED, "data"))
    def plan(search: str) -> list[Component]:
        return thinning(source, source.view(search))


def thinning(source: Source, view: View) -> list[Component]:
    """Plans, outcomes of decisions, and whether stripping paid, as known on the view's date."""
    as_of = view.as_of or source.home_date()
    kept = trees_kept(source, view, as_of)
    plans = plans_by_state(view.keep(source.thinning(as_of)), as_of)
    overruled = [row for row in source.overrules(as_of) if kept is None or row.tree in kept]
    paid = [
        row
        for row in source.stripping_paid(as_of)
        if view.site in (None, row.site) and view.cultivar in (None, row.cultivar)
    ]
    return [_plans(plans, as_of), _overruled(overruled, as_of), _paid(paid)]


def _plans(plans: Sequence[Thinned], as_of: date) -> Component:
    if not plans:
        return pieces.section(young_texts.THIN_TITLE, html.P(young_texts.THIN_NONE))
    groups: list[Component] = []
    for state in ORDER:
        own = [each for each in plans if each.state == state]
        if own:
            title = young_texts.THIN_MORE.format(
                title=young_texts.THIN_STATES[state], count=len(own)
            )
            cards = html.Ul([_card(each, as_of) for each in own[:MOST_CARDS]], className="cards")
            groups.append(
                html.Details([html.Summary(title), cards], className="fold", open=state == "now")
            )
    return pieces.section(
        young_texts.THIN_TITLE,
        html.P(sentence(plans, as_of), className="second-answer"),
        *groups,
        html.P(young_texts.THIN_CAUTION, className="caution"),
        pieces.table(
            [_cells(each) for each in plans],
            young_texts.THIN_COLUMNS,
            "thinning",
            texts.TABLE_TITLE,
        ),
    )


def sentence(plans: Sequence[Thinned], as_of: date) -> str:
    """How many trees are still to be thinned, and the first of them."""
    todo = [each for each in plans if each.state in ("now", "soon")]
    following = ""
    if todo:
        plan = todo[0].plan
        template = (
            young_texts.THIN_NEXT_OPEN if plan.target_fruit is None else young_texts.THIN_NEXT
        )
        following = template.format(
            tree=shown(plan.tree),
            cultivar=shown(plan.cultivar),
            fruit=young_texts.THIN_FRUIT.format(fruit=plan.target_fruit or 0),
            window=_window(plan, as_of),
        )
    trees = count(len(plans), texts.TREE_ONE, texts.TREE_MANY)
    return young_texts.THIN_ANSWER.format(todo=len(todo), trees=trees, next=following)


def _window(plan: ThinningPlan, as_of: date) -> str:
    if plan.start is None or plan.end is None:
        return young_texts.THIN_NO_WINDOW
    return young_texts.THIN_WINDOW.format(start=day(plan.start, as_of), end=day(plan.end, as_of))


def _spacing(plan: ThinningPlan) -> str:
    if plan.spacing_cm is None:
        return ""
    return young_texts.THIN_SPACING.format(apart=measures.span(*plan.spacing_cm, "cm"))


def _card(each: Thinned, as_of: date) -> Component:
    plan = each.plan
    target = young_texts.THIN_BY_DISTANCE
    if each.state == "little":
        target = young_texts.THIN_LITTLE
    elif plan.target_fruit is not None:
        target = young_texts.THIN_TO.format(
            fruit=young_texts.THIN_FRUIT.format(fruit=plan.target_fruit)
        )
    told = [young_texts.THIN_RISK[plan.return_bloom_risk]]
    if plan.fruit_to_come is not None:
        told.insert(0, young_texts.THIN_COMES.format(fruit=plan.fruit_to_come))
    if plan.fruit_g is not None and plan.kg is not None:
        fruit, crop = plan.fruit_g, plan.kg
        told.append(
            young_texts.THIN_BRINGS.format(
                fruit=measures.span(fruit.low, fruit.high, "g"),
                crop=measures.span(crop.low, crop.high, "kg"),
            )
        )
    when = _window(plan, as_of)
    if plan.done is not None:
        when = young_texts.THIN_DONE.format(date=day(plan.done, as_of))
    return html.Li(
        html.Div(
            [
                html.H3(
                    [
                        html.Span(html.Bdi(shown(plan.tree)), className="advice-name"),
                        html.Span(target, className="how-many"),
                    ]
                ),
                html.P([html.Bdi(shown(plan.cultivar)), f" · {shown(plan.site)}"], className="who"),
                html.P(
                    ", ".join(part for part in (when, _spacing(plan)) if part), className="when"
                ),
                html.Ul([html.Li(text) for text in told], className="why"),
                html.Details(
                    [
                        html.Summary(young_texts.IN_FULL),
                        html.Ul([html.Li(measures.retold(reason)) for reason in plan.reasons]),
                        html.P(texts.SOURCES),
                        html.Ul([html.Li(measures.retold(source)) for source in plan.sources]),
                    ],
                    className="sources",
                ),
            ]
        ),
        className="card due" if each.state == "now" else "card",
    )


def _cells(each: Thinned) -> dict[str, object]:
    plan = each.plan
    return {
        "tree": shown(plan.tree),
        "cultivar": shown(plan.cultivar),
        "site": shown(plan.site),
        "leaf": plan.leaf,
        "state": young_texts.THIN_STATES[each.state],
        "target": plan.target_fruit,
        "spacing": "" if plan.spacing_cm is None else measures.ends(*plan.spacing_cm, "cm"),
        "start": plan.start.isoformat() if plan.start else "",
        "end": plan.end.isoformat() if plan.end else "",
        "to_come": plan.fruit_to_come,
        "fruit_g": measures.ends(plan.fruit_g.low, plan.fruit_g.high, "g") if plan.fruit_g else "",
        "kg": measures.ends(plan.kg.low, plan.kg.high, "kg") if plan.kg else "",
        "risk": young_texts.RISKS[plan.return_bloom_risk],
        "reasons": measures.retold(" ".join(plan.reasons)),
    }


def _overruled(rows: Sequence[Overrule], as_of: date) -> Component:
    if not rows:
        return pieces.section(
            young_texts.OVERRULED_TITLE, html.P(young_texts.OVERRULED_NONE, className="quiet")
        )
    items = []
    for row in rows:
        told = young_texts.OVERRULED_ROW.format(
            tree=shown(row.tree),
            date=day(row.date, as_of),
            decision=row.decision,
            advice=row.advice,
            why=f" ({shown(row.why, 200)})" if row.why else "",
        )
        seasons = [html.Li(_outcome(row, at)) for at in range(len(row.outcome))]
        if row.tcsa_then_cm2 is not None and row.tcsa_now_cm2 is not None:
            trunk = young_texts.OVERRULED_TRUNK.format(
                then=measures.said(row.tcsa_then_cm2, "cm²", 1),
                now=measures.said(row.tcsa_now_cm2, "cm²", 1),
            )
            seasons.append(html.Li(trunk))
        items.append(html.Li([told, html.Ul(seasons)]))
    return pieces.section(young_texts.OVERRULED_TITLE, html.Ul(items))


def _outcome(row: Overrule, at: int) -> str:
    season = row.outcome[at]
    expected = ""
    if season.expected_kg is not None:
        expected = young_texts.OVERRULED_EXPECTED.format(
            expected=kilograms(season.expected_kg), verdict=season.verdict
        )
    return young_texts.OVERRULED_SEASON.format(
        season=season.season,
        crop=texts.CROP_NAMES[season.crop],
        kg="" if season.weight_kg is None else f", {kilograms(season.weight_kg)}",
        expected=expected,
    )


def _paid(rows: Sequence[StripPaid]) -> Component:
    if not rows:
        return pieces.section(young_texts.PAID_TITLE, html.P(young_texts.PAID_NOTHING))
    return pieces.section(
        young_texts.PAID_TITLE,
        html.Ul([html.Li(paid_sentence(row)) for row in rows]),
        html.P(young_texts.PAID_NOTE),
    )


def paid_sentence(row: StripPaid) -> str:
    """Stripped against unstripped trees of one planting: means, numbers, and the interval."""
    unit = young_texts.PAID_UNITS[row.measure]

    def said(number: float | None) -> str:
        return "–" if number is None else measures.said(number, unit, 1)

    verdict = young_texts.PAID_FEW
    if row.low is not None and row.high is not None:
        words = {"difference": said(row.difference), "low": said(row.low), "high": said(row.high)}
        if row.verdict == "no clear difference":
            verdict = young_texts.PAID_UNCLEAR.format(**words)
        else:
            ahead = row.verdict == "stripped ahead"
            who = young_texts.PAID_STRIPPED if ahead else young_texts.PAID_KEPT
            verdict = young_texts.PAID_CLEAR.format(ahead=who, **words)
    return young_texts.PAID_ROW.format(
        cultivar=shown(row.cultivar),
        roots=shown(row.rootstock) if row.rootstock else young_texts.PAID_ROOTS_UNKNOWN,
        season=row.first_season,
        site=shown(row.site),
        measure=young_texts.PAID_MEASURES[row.measure],
        stripped_mean=said(row.stripped_mean),
        stripped=row.stripped_trees,
        kept_mean=said(row.kept_mean),
        kept=row.kept_trees,
        verdict=verdict,
    )
