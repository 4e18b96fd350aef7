"""Bloom and partners: who blooms when, does each tree get pollen, bees, frost at bloom."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import paths, texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.components.plain import plain
from dashboard.data import BeeWeather, BloomFrost, Partner, Pollination
from dashboard.figures.bloom import bloom_figure
from dashboard.measures import cell, degrees, filled, retold, said
from dashboard.paths import link
from dashboard.source import Source
from dashboard.texts import bloom as words
from dashboard.views.bloom import (
    LACKING,
    Alike,
    bees_of,
    by_verdict,
    in_bloom,
    next_to_bloom,
    rows_of,
)
from dashboard.views.withholding import readable
from dashboard.words import count, day, listing, percent, shown

NAMES, MOST_ROWS, MOST_LISTED = 4, 60, 40
SIGNS: pieces.Signs = (
    ("bloom-logged", words.KEY_LOGGED),
    ("bloom-around", words.KEY_AROUND),
    ("band80", words.KEY_FORECAST),
    ("bloom-give", words.KEY_GIVE),
    ("as-of", texts.KEY_AS_OF),
)


def render(source: Source, view: View) -> Component:
    """The page as known on the view's date."""
    as_of = view.as_of or source.home_date()
    blooms = view.keep(source.pollination(as_of))
    if not blooms:
        return pieces.page(texts.PAGE_TITLES["bloom"], pieces.no_match())
    frosts = [
        each
        for each in source.bloom_frost(as_of)
        if view.site in (None, each.site) and view.species in (None, each.species)
    ]
    return pieces.page(
        texts.PAGE_TITLES["bloom"],
        pieces.answer(sentence(blooms, as_of)),
        *_pictures(blooms, view, as_of),
        _verdicts(blooms, view),
        _frost(frosts, as_of),
        _bees(blooms),
        pieces.table(table_rows(blooms), words.COLUMNS, "bloom", words.TABLE_TITLE),
    )


def sentence(blooms: Sequence[Pollination], as_of: date) -> str:
    """What blooms on the day, what next, and which trees have a partner."""
    open_now = in_bloom(blooms, as_of)
    cultivars = dict.fromkeys(shown(one.cultivar) for one in open_now)
    now = words.NOW.format(names=listing(cultivars, NAMES)) if open_now else words.NOW_NONE
    coming = next_to_bloom(blooms, as_of)
    if coming is not None and coming.bloom_first is not None:
        give = coming.give_or_take_days
        now += words.NEXT.format(
            name=shown(coming.cultivar),
            site=shown(coming.site),
            date=day(coming.bloom_first, as_of),
            give=words.GIVE.format(days=give) if give else "",
        )
    return words.ANSWER.format(date=day(as_of), now=now, partners=_partners(blooms))


def _partners(blooms: Sequence[Pollination]) -> str:
    told = []
    for verdict, groups in by_verdict(blooms).items():
        trees = [shown(tree) for group in groups for tree in group.trees]
        names = listing(trees, NAMES)
        told.append(words.COUNTS[verdict].format(n=len(trees), names=names))
    trees_counted = count(len(blooms), texts.TREE_ONE, texts.TREE_MANY)
    return words.PARTNERS.format(trees=trees_counted, counts=", ".join(told))


def _pictures(blooms: Sequence[Pollination], view: View, as_of: date) -> list[Component]:
    rows = rows_of(blooms, each_tree=view.rows == "trees")
    if not rows:
        return [html.P(words.NONE_KNOWN.format(date=day(as_of)))]
    made = []
    for number, site in enumerate(dict.fromkeys(row.site for row in rows)):
        own = [row for row in rows if row.site == site]
        caption = words.CAPTION
        if len(own) > MOST_ROWS:
            caption += " " + words.MORE_ROWS.format(shown=MOST_ROWS, total=len(own))
        made.append(
            pieces.section(
                words.PICTURE_TITLE.format(site=shown(site)),
                pieces.picture(
                    bloom_figure(own[:MOST_ROWS], as_of),
                    caption,
                    SIGNS,
                    f"bloom-{number}",
                    label=words.LABEL.format(site=shown(site)),
                    explained=number == 0,
                ),
            )
        )
    return made


def _verdicts(blooms: Sequence[Pollination], view: View) -> Component:
    """For each tree whether it gets pollen, from whom, and why that is thought."""
    parts: list[Component] = []
    for verdict, groups in by_verdict(blooms).items():
        number = sum(len(group.trees) for group in groups)
        note = words.VERDICT_NOTE[verdict]
        parts.append(
            html.Details(
                [
                    html.Summary(f"{words.SIGNS[verdict]} {words.VERDICTS[verdict]} ({number})"),
                    html.P(note, className="quiet") if note else None,
                    html.Ul(
                        [_alike(each) for each in groups[:MOST_LISTED]], className="bloom-list"
                    ),
                    html.P(words.MORE_LISTED.format(shown=MOST_LISTED, total=len(groups)))
                    if len(groups) > MOST_LISTED
                    else None,
                ],
                className="fold",
                open=verdict in LACKING,
                **pieces.data(fold=verdict),
            )
        )
    sites = link(paths.RECORDS, view.choosing(kind="sites"))
    spacing = html.P(
        [words.DISTANCE_NOTE, " ", dcc.Link(words.TO_SPACING, href=sites)],
        className="quiet",
    )
    return pieces.section(words.VERDICTS_TITLE, spacing, plain(*parts))


def _names(one: Pollination) -> list[str]:
    """What people named, as it may stand in the reasons."""
    partners = [name for each in one.partners for name in (each.tree, each.cultivar)]
    return [*dict.fromkeys([one.tree, one.cultivar, one.site, *partners])]


def _alike(group: Alike) -> Component:
    one = group.one
    partners = one.partners[: words.MOST_PARTNERS]
    return html.Li(
        [
            html.Strong(html.Bdi(shown(one.cultivar))),
            f" · {listing([shown(tree) for tree in group.trees], NAMES)} · {shown(one.site)}",
            html.P(retold(readable(" ".join(one.reasons), _names(one)))),
            html.Details(
                [
                    html.Summary(words.PARTNERS_OF.format(count=len(one.partners) + one.left_out)),
                    html.Ul([html.Li(_partner(each)) for each in partners]),
                ],
                className="sources",
            )
            if partners
            else None,
        ]
    )


def _partner(partner: Partner) -> str:
    days = words.TOGETHER_UNKNOWN
    if partner.overlap_days is not None and partner.overlap_share is not None:
        give = partner.give_or_take_days
        days = words.TOGETHER.format(
            days=partner.overlap_days,
            share=percent(partner.overlap_share),
            give=words.TOGETHER_GIVE.format(days=give) if give else "",
        )
    if partner.past_overlap_days is not None:
        days += words.PAST.format(days=partner.past_overlap_days, seasons=partner.past_seasons)
    return words.PARTNER_LINE.format(
        tree=shown(partner.tree),
        cultivar=shown(partner.cultivar),
        serves=words.SERVES[partner.serves],
        days=days,
        apart=_apart(partner),
        why=_capital(readable(partner.why, [partner.tree, partner.cultivar])),
    )


def _apart(partner: Partner) -> str:
    """How far it stands, as exactly as it is known."""
    if partner.distance_m is not None:
        template = words.METRES_FAR if partner.far else words.METRES
        return template.format(distance=said(partner.distance_m, "m", 0))
    if partner.rows_apart is None or partner.places_apart is None:
        return words.APART_UNKNOWN
    return words.APART.format(rows=partner.rows_apart, places=partner.places_apart)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _frost(frosts: Sequence[BloomFrost], as_of: date) -> Component:
    if not frosts:
        return pieces.section(words.FROST_TITLE, html.P(words.FROST_NONE))
    cautions = dict.fromkeys(text for each in frosts for text in each.cautions)
    near, over = (
        [_frost_card(each, as_of) for each in frosts if (each.when == "over") is gone]
        for gone in (False, True)
    )
    return pieces.section(
        words.FROST_TITLE,
        pieces.notice(
            words.CAUTIONS_TITLE,
            [html.Ul([html.Li(retold(text)) for text in (*cautions, words.FROST_SHELTER)])],
            kind="danger",
        ),
        html.Ul(near, className="cards bloom-frost") if near else None,
        html.Details(
            [
                html.Summary(words.FROST_OVER.format(count=len(over))),
                html.Ul(over, className="cards"),
            ],
            className="fold",
        )
        if over
        else None,
    )


def _frost_card(frost: BloomFrost, as_of: date) -> Component:
    when = words.FROST_WHEN[frost.when].format(
        first=day(frost.first, as_of), last=day(frost.last, as_of)
    )
    stage = words.FROST_STAGE_NONE.format(stage=frost.stage)
    if frost.stage_logged is not None:
        stage = words.FROST_STAGE.format(stage=frost.stage, date=day(frost.stage_logged, as_of))
    most = "" if frost.kill90_c is None else words.FROST_MOST.format(kill90=degrees(frost.kill90_c))
    return html.Li(
        html.Div(
            [
                html.H3(
                    [
                        html.Span(frost.species, className="advice-name"),
                        html.Span(f"{shown(frost.site)}, {when}", className="how-many"),
                    ]
                ),
                html.P(words.FROST_KILL.format(kill10=degrees(frost.kill10_c), most=most)),
                html.Ul(
                    [html.Li(text) for text in (*map(retold, frost.says), stage)], className="why"
                ),
                html.Details(
                    [
                        html.Summary(words.SOURCES),
                        html.P(words.FROST_SOURCE.format(source=frost.source)),
                    ],
                    className="sources",
                ),
            ]
        ),
        className="card due" if frost.when == "now" else "card",
    )


def _bees(blooms: Sequence[Pollination]) -> Component:
    known, unknown = bees_of(blooms)
    lines = [
        html.Li(
            words.BEES_LINE.format(
                name=f"{shown(name)} ({shown(site)})",
                share=percent(bees.share or 0.0),
                hours=f"{bees.hours or 0:.0f}",
                days=bees.days,
                of=bees.of_days,
                rain="" if bees.dry_known else words.BEES_RAIN,
                wind=_calm(bees),
            )
        )
        for name, site, bees in known
    ]
    if unknown:
        names = listing([shown(name) for name in unknown])
        lines.append(html.Li(words.BEES_UNKNOWN.format(names=names)))
    told = words.BEES_NONE
    if known:
        shares = [bees.share or 0.0 for _, _, bees in known]
        told = words.BEES_RANGE.format(
            low=percent(min(shares)), high=percent(max(shares)), least=shown(known[0][0])
        )
        told = f"{told} {_calm_range(known)}"
    return pieces.section(
        words.BEES_TITLE,
        html.P(told),
        html.P(filled(words.BEES_NOTE), className="quiet"),
        html.Details(
            [html.Summary(words.BEES_EACH.format(count=len(known))), html.Ul(lines)],
            className="fold",
        ),
    )


def _calm(bees: BeeWeather) -> str:
    """How much of it was calm as well, where wind is on record."""
    if bees.calm_share is None:
        return ""
    text = words.BEES_WIND if bees.calm_days == bees.days else words.BEES_WIND_SOME
    share, hours = percent(bees.calm_share), f"{bees.calm_hours or 0:.0f}"
    return text.format(share=share, hours=hours, days=bees.calm_days)


def _calm_range(known: Sequence[tuple[str, str, BeeWeather]]) -> str:
    """From which cultivar's calm share to which, and where wind is unknown."""
    calm = sorted((bees.calm_share, name) for name, _, bees in known if bees.calm_share is not None)
    if not calm:
        return words.BEES_NO_WIND
    (low, least), (high, _) = calm[0], calm[-1]
    told = words.BEES_CALM.format(low=percent(low), high=percent(high), least=shown(least))
    if len(calm) == len(known):
        return told
    return f"{told} {words.BEES_WIND_PART.format(few=len(known) - len(calm), all=len(known))}"


def _nearest(one: Pollination) -> float | str:
    """How far the nearest partner in bloom with it stands, in the unit chosen."""
    serving = [each for each in one.partners if each.serves == "yes" and each.overlap_days]
    known = [each.distance_m for each in serving if each.distance_m is not None]
    if known:
        return cell(min(known), "m", 0)
    return words.UNKNOWN if serving else ""


def _share(share: float | None) -> str:
    return words.UNKNOWN if share is None else percent(share)


def table_rows(blooms: Sequence[Pollination]) -> list[dict[str, object]]:
    """The blooms as rows of a table."""
    return [
        {
            "tree": shown(one.tree),
            "cultivar": shown(one.cultivar),
            "species": shown(one.species),
            "site": shown(one.site),
            "first": one.bloom_first.isoformat() if one.bloom_first else "",
            "last": one.bloom_last.isoformat() if one.bloom_last else "",
            "give": one.give_or_take_days if one.bloom_first else None,
            "basis": words.BASIS.get(one.bloom_basis or "", words.UNKNOWN),
            "verdict": words.VERDICTS[one.verdict],
            "reasons": retold(readable(" ".join(one.reasons), _names(one))),
            "nearest": _nearest(one),
            "bees": _share(one.bees.share if one.bees else None),
            "calm": _share(one.bees.calm_share if one.bees else None),
        }
        for one in blooms
    ]
