"""May this young tree carry fruit: strip, limit or carry, in the order of what must be done."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from dash import Dash, html
from dash.development.base_component import Component

from dashboard import texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.components.pieces import aria
from dashboard.data import season_label
from dashboard.figures.young import young_figure
from dashboard.measures import cell, retold
from dashboard.pages import thinning, tree_decision
from dashboard.source import Source
from dashboard.texts import young as young_texts
from dashboard.views.young import ORDER, YoungTree, young_trees
from dashboard.words import count, day, listing, shown

MOST_NAMED = 8
SIGNS = (
    ("advice strip", f"{texts.ADVICE_NAMES['strip']}: {texts.ADVICE_MEANING['strip']}"),
    ("advice limit", f"{texts.ADVICE_NAMES['limit']}: {texts.ADVICE_MEANING['limit']}"),
    ("advice carry", f"{texts.ADVICE_NAMES['carry']}: {texts.ADVICE_MEANING['carry']}"),
    ("advice ask", texts.ADVICE_MEANING["unknown"]),
    ("pick", texts.CROP_NAMES["picked"]),
    ("crop-stripped", texts.CROP_NAMES["stripped"]),
    ("crop-none", texts.CROP_NAMES["none"]),
    ("crop-unrecorded", texts.CROP_NAMES["not recorded"]),
)


def render(source: Source, view: View) -> Component:
    """The page as known on the view's date."""
    as_of = view.as_of or source.home_date()
    sites = source.overview(as_of).sites
    latitudes = dict(zip(sites["site"], sites["latitude"], strict=True))
    trees = view.keep(_trees(source, latitudes, as_of))
    seen = view.but(as_of=as_of)
    after = (
        tree_decision.form(view.keep(source.crop_load(as_of)), seen),
        thinning.place(seen),
        html.P(texts.LADDER_CAUTION, className="caution"),
    )
    if not trees:
        return pieces.page(texts.PAGE_TITLES["young"], pieces.answer(texts.YOUNG_NONE), *after)
    return pieces.page(
        texts.PAGE_TITLES["young"],
        pieces.answer(in_short(trees), sentence(trees, as_of), texts.YOUNG_UNCERTAINTY),
        *_groups(trees, as_of),
        pieces.section(
            texts.YOUNG_PICTURE,
            pieces.picture(young_figure(trees), texts.YOUNG_CAPTION, SIGNS, "young"),
        ),
        pieces.table(_rows(trees, latitudes), texts.YOUNG_COLUMNS, "young", texts.TABLE_TITLE),
        *after,
    )


def connect(app: Dash, source: Source) -> None:
    """The form's buttons, and the plans that come after the page."""
    tree_decision.connect(app, source)
    thinning.connect(app, source)


def in_short(trees: Sequence[YoungTree]) -> str:
    """Which trees may carry a crop, some fruit, or none."""
    parts = []
    for advice, words in texts.YOUNG_PARTS.items():
        own = [shown(tree.advice.tree) for tree in trees if tree.advice.advice == advice]
        if own:
            parts.append(words.format(count=len(own), names=listing(own, MOST_NAMED)))
    named = count(len(trees), texts.YOUNG_ONE, texts.YOUNG_MANY)
    return texts.YOUNG_WHOLE.format(trees=named, parts=listing(parts))


def sentence(trees: Sequence[YoungTree], as_of: date) -> str:
    """How many trees want something done, and the first of them."""
    todo = [tree for tree in trees if tree.urgency in ("overdue", "due")]
    named = count(len(trees), texts.YOUNG_ONE, texts.YOUNG_MANY)
    if not todo:
        return texts.YOUNG_NOTHING.format(trees=named, date=day(as_of))
    first = todo[0]
    template = {
        ("strip", False): texts.YOUNG_NEXT_STRIP,
        ("strip", True): texts.YOUNG_NEXT_STRIP,
        ("limit", True): texts.YOUNG_NEXT_LIMIT,
        ("limit", False): texts.YOUNG_NEXT_LIMIT_OPEN,
    }[first.advice.advice, first.advice.fruit_limit is not None]
    return texts.YOUNG_ANSWER.format(
        todo=len(todo),
        trees=named,
        next=template.format(
            tree=shown(first.advice.tree),
            cultivar=shown(first.cultivar),
            site=shown(first.site),
            leaf=first.advice.leaf,
            limit=first.advice.fruit_limit,
            by=_by(first, as_of),
        ),
    )


def _by(tree: YoungTree, as_of: date) -> str:
    if tree.advice.act_by is None:
        return ""
    template = texts.YOUNG_OVERDUE_BY if tree.urgency == "overdue" else texts.YOUNG_BY
    return template.format(date=day(tree.advice.act_by, as_of))


def _trees(source: Source, latitudes: dict[str, float], as_of: date) -> list[YoungTree]:
    thinnings = source.records(as_of).thinnings
    removals: dict[str, list[tuple[date, str]]] = defaultdict(list)
    for tree, when, action in zip(
        thinnings["tree"], thinnings["date"].dt.date, thinnings["action"], strict=True
    ):
        removals[tree].append((when, action))
    return young_trees(source.crop_load(as_of), source.yields(as_of), removals, latitudes, as_of)


def _groups(trees: Sequence[YoungTree], as_of: date) -> list[Component]:
    made = []
    for urgency in ORDER:
        own = [tree for tree in trees if tree.urgency == urgency]
        if own:
            made.append(
                pieces.section(
                    f"{texts.URGENCY_TITLES[urgency]} ({len(own)})",
                    html.Ul([_card(tree, as_of) for tree in own], className="cards"),
                )
            )
    return made


def _card(tree: YoungTree, as_of: date) -> Component:
    """One tree: what to do with its fruit, how many may stay, by when, and why."""
    item = tree.advice
    sign = "ask" if item.advice == "unknown" else item.advice
    return html.Li(
        [
            html.Span(className=f"sign advice {sign}", **aria(hidden="true")),
            html.Div(
                [
                    html.H3(
                        [
                            html.Span(texts.ADVICE_NAMES[item.advice], className="advice-name"),
                            html.Span(_how_many(tree), className="how-many"),
                        ]
                    ),
                    html.P(
                        [
                            html.Strong(html.Bdi(shown(item.tree))),
                            " ",
                            html.Bdi(shown(item.cultivar)),
                            f" · {shown(item.site)} · {texts.LEAF.format(leaf=item.leaf)}",
                        ],
                        className="who",
                    ),
                    html.P(_when(tree, as_of), className="when") if _when(tree, as_of) else None,
                    html.P(young_texts.OVERRULED[item.overruled], className="when")
                    if item.overruled
                    else None,
                    html.Ul([html.Li(retold(reason)) for reason in _told(tree)], className="why"),
                    _in_full(tree),
                    _asked(tree),
                    html.A(young_texts.DECIDE_LINK, href=f"#{tree_decision.FORM}"),
                ]
            ),
        ],
        className=f"card {tree.urgency}",
    )


def _how_many(tree: YoungTree) -> str:
    if tree.advice.advice == "limit" and tree.advice.fruit_limit is not None:
        return texts.FRUIT_LIMIT.format(limit=tree.advice.fruit_limit)
    return texts.ADVICE_MEANING[tree.advice.advice]


def _when(tree: YoungTree, as_of: date) -> str:
    if tree.done_on is not None:
        return texts.DONE_ON.format(date=day(tree.done_on, as_of))
    if tree.advice.act_by is None or tree.urgency not in ("due", "overdue"):
        return ""
    template = texts.WAS_DUE if tree.urgency == "overdue" else texts.ACT_BY
    return template.format(date=day(tree.advice.act_by, as_of))


def _told(tree: YoungTree) -> list[str]:
    """The reasons on the card: the rule and what follows from it; all, where one is asked for."""
    reasons = tree.advice.reasons
    if tree.urgency == "ask" or len(reasons) < 3:
        return list(reasons)
    return [reasons[0], reasons[-1]]


def _in_full(tree: YoungTree) -> Component | None:
    """Every reason and its sources, folded away."""
    item = tree.advice
    if not item.sources and len(item.reasons) < 3:
        return None
    return html.Details(
        [
            html.Summary(texts.IN_FULL),
            html.Ul([html.Li(retold(reason)) for reason in item.reasons]),
            html.P(texts.SOURCES) if item.sources else None,
            html.Ul([html.Li(retold(source)) for source in item.sources]),
        ],
        className="sources",
    )


def _asked(tree: YoungTree) -> Component | None:
    """What is not on record and would make the advice surer."""
    if not tree.advice.asked:
        return None
    return html.Details(
        [
            html.Summary(f"{young_texts.ASKED_TITLE} ({len(tree.advice.asked)})"),
            html.Ul([html.Li(retold(question)) for question in tree.advice.asked]),
        ],
        className="sources asked",
    )


def _rows(trees: Sequence[YoungTree], latitudes: dict[str, float]) -> list[dict[str, object]]:
    return [
        {
            "tree": shown(tree.advice.tree),
            "cultivar": shown(tree.cultivar),
            "species": shown(tree.species),
            "site": shown(tree.site),
            "season": season_label(tree.advice.season, latitudes[tree.site]),
            "leaf": tree.advice.leaf,
            "advice": texts.ADVICE_NAMES[tree.advice.advice],
            "fruit_limit": tree.advice.fruit_limit,
            "act_by": tree.advice.act_by.isoformat() if tree.advice.act_by else "",
            "done_on": tree.done_on.isoformat() if tree.done_on else "",
            "tcsa_cm2": cell(tree.advice.tcsa_cm2, "cm²", 1),
            "decided": tree.advice.overruled or "",
            "asked": retold(" ".join(tree.advice.asked)),
            "reasons": retold("; ".join(tree.advice.reasons)),
            "sources": retold("; ".join(tree.advice.sources)),
        }
        for tree in trees
    ]
