"""How far the season is: warmth and chill beside past years, the last days, frost at bloom."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import plotly.graph_objects as go
from dash import html
from dash.development.base_component import Component

from dashboard import measures, texts
from dashboard.address import View
from dashboard.components import pieces
from dashboard.data import Course, SiteSeason
from dashboard.figures.weather import course_figure, days_figure
from dashboard.measures import degrees, filled
from dashboard.source import Source
from dashboard.texts import weather as words
from dashboard.views.weather import (
    Drawn,
    chill_band,
    drawn_for,
    heat_band,
    missing_and_suspect,
    reached_on,
    standing,
    weekly,
)
from dashboard.words import count, day, percent, shown, span

# Sites whose pictures stand on one page.
MOST_SITES = 3
STALE_DAYS = 3
HEAT_SIGNS: pieces.Signs = (
    ("line-now", words.KEY_NOW),
    ("line-ahead", words.KEY_AHEAD),
    ("line-middle", words.KEY_MEDIAN),
    ("past-range", words.KEY_RANGE),
    ("band80", words.KEY_NEED),
    ("line-bloom", words.KEY_BLOOM),
    ("as-of", words.KEY_VIEW),
)
CHILL_SIGNS: pieces.Signs = (("line-now", words.KEY_NOW_WINTER), *HEAT_SIGNS[1:5], HEAT_SIGNS[6])
DAY_SIGNS: pieces.Signs = (
    ("band50", words.KEY_DAY),
    ("band80", words.KEY_FORECAST_DAY),
    ("frost", words.KEY_FROST),
    ("too-soon plain", words.KEY_SUSPECT),
    ("logged-out hollow", words.KEY_MISSING),
    ("as-of", words.KEY_VIEW),
)
SIGNS = {"heat": HEAT_SIGNS, "chill": CHILL_SIGNS, "days": DAY_SIGNS}


def render(source: Source, view: View) -> Component:
    """The page as known on the view's date."""
    as_of = view.as_of or source.home_date()
    drawn = drawn_for(source.forecast(as_of), view)
    if not drawn:
        return pieces.page(texts.PAGE_TITLES["weather"], pieces.no_match())
    shown_sites = drawn[:MOST_SITES]
    seasons = [source.site_season(as_of, each.kind) for each in shown_sites]
    note = words.CHOOSE_SITE.format(shown=len(seasons), total=len(drawn))
    return pieces.page(
        texts.PAGE_TITLES["weather"],
        pieces.answer(*(answer_of(season, as_of) for season in seasons)),
        html.P(note, className="quiet") if len(drawn) > len(seasons) else None,
        *(
            _site(season, which, as_of, number)
            for number, (season, which) in enumerate(zip(seasons, shown_sites, strict=True))
        ),
        _tables(seasons),
    )


def answer_of(season: SiteSeason, as_of: date) -> str:
    """How warm it has been so far at a site against the usual, and what chill the winter gave."""
    if season.heat is None or season.heat.last_day is None or season.heat.total is None:
        return words.NO_WEATHER.format(site=shown(season.site), date=day(as_of))
    return f"{_heat(season, season.heat)} {_chill(season)}".strip()


def _heat(season: SiteSeason, course: Course) -> str:
    last, total = course.last_day, course.total
    assert last is not None
    assert total is not None
    at = (last - course.first).days
    which, off = standing(course)
    template = words.ANSWER_HEAT if course.usual is not None else words.ANSWER_HEAT_ALONE
    return template.format(
        site=shown(season.site),
        total=measures.number(total, "°C d", 0),
        base=measures.plainly(season.base_c, "°C"),
        first=day(course.first, last),
        last=day(last),
        least=measures.number(course.least[at], "°C d", 0),
        most=measures.number(course.most[at], "°C d", 0),
        years=count(course.years, words.ONE_YEAR, words.MANY_YEARS),
        standing=words.STANDING[which].format(days=count(off, words.ONE_DAY, words.MANY_DAYS)),
    )


def _chill(season: SiteSeason) -> str:
    course = season.chill
    if course is None or course.last_day is None or course.total is None:
        return ""
    at = (course.last_day - course.first).days
    over = at == len(course.now) - 1
    template = words.ANSWER_CHILL if course.usual is not None else words.ANSWER_CHILL_ALONE
    said = template.format(
        winter=words.WINTER_OVER if over else words.WINTER_RUNNING,
        by_then="" if over else words.BY_THEN,
        total=f"{course.total:.0f}",
        least=f"{course.least[at]:.0f}",
        most=f"{course.most[at]:.0f}",
    )
    return said + _chill_need(season, course, over)


def _chill_need(season: SiteSeason, course: Course, over: bool) -> str:
    need = season.chill_need
    if need is None:
        return words.CHILL_UNKNOWN.format(species=shown(season.species))
    of = shown(season.chill_need_of)
    of = of[:1].upper() + of[1:]
    low, high = need
    if high <= 0:
        return words.CHILL_NONE_NEEDED.format(of=of)
    asked = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    met = reached_on(course, high)
    if met is not None:
        return words.CHILL_MET.format(of=of, need=asked, date=day(met))
    if reached_on(course, low) is not None:
        return words.CHILL_PARTLY.format(of=of, need=asked)
    return (words.CHILL_NOT_MET if over else words.CHILL_NOT_YET).format(of=of, need=asked)


def _site(season: SiteSeason, drawn: Drawn, as_of: date, number: int) -> Component:
    why = {"chosen": words.WHY_CHOSEN, "next": words.WHY_NEXT, "first": words.WHY_FIRST}[drawn.why]
    kind = words.OF_KIND.format(
        cultivar=shown(season.cultivar), species=shown(season.species), why=why
    )
    return pieces.section(
        f"{shown(season.site)}, {season.season}",
        html.P(kind, className="quiet"),
        *_pictures(season, as_of, number),
        _frost(season),
        _sources(season, as_of),
    )


def _pictures(season: SiteSeason, as_of: date, number: int) -> list[Component]:
    """Warmth, chill and the days, each with its heading."""
    made = []
    if season.heat is not None:
        band = heat_band(season, words.NEED_RIPE.format(cultivar=season.cultivar))
        figure = course_figure(season.heat, band, as_of, words.AXIS_HEAT, "°C d")
        made.append(_picture(season, "heat", figure, _heat_caption(season, season.heat), number))
    if season.chill is not None:
        chill = chill_band(season, words.NEED_CHILL)
        caption = words.CHILL_CAPTION if chill else words.CHILL_CAPTION_NO_NEED
        said = caption.format(first=day(season.chill.first), of=shown(season.chill_need_of))
        figure = course_figure(season.chill, chill, as_of, words.AXIS_CHILL)
        made.append(_picture(season, "chill", figure, said, number))
    if season.days:
        figure = days_figure(season.days, as_of)
        made.append(_picture(season, "days", figure, _days_caption(season), number))
    return made


def _picture(
    season: SiteSeason, what: str, figure: go.Figure, caption: str, number: int
) -> Component:
    title, label = words.PICTURES[what]
    return html.Div(
        [
            html.H3(title),
            pieces.picture(
                figure,
                caption,
                SIGNS[what],
                f"weather-{what}-{number}",
                label=label.format(site=shown(season.site)),
            ),
        ],
        className="part",
    )


def _heat_caption(season: SiteSeason, course: Course) -> str:
    need, bloom = season.heat_need, season.bloom
    template = words.HEAT_CAPTION
    if need is None:
        template = words.HEAT_CAPTION_NO_NEED
    elif bloom is None:
        template = words.HEAT_CAPTION_NO_BLOOM
    said = template.format(
        first=day(course.first),
        cultivar=shown(season.cultivar),
        low=measures.number(need.low, "°C d", 0) if need else "",
        high=measures.number(need.high, "°C d", 0) if need else "",
        seasons=need.seasons if need else 0,
    )
    if need is not None and bloom is not None and not bloom.seen:
        said += words.HEAT_EXPECTED_BLOOM.format(date=day(bloom.date))
    return said


def _days_caption(season: SiteSeason) -> str:
    missing, suspect = missing_and_suspect(season)
    past = sum(each.kind != "forecast" for each in season.days)
    said = [
        filled(words.DAYS_CAPTION),
        words.DAYS_COUNT.format(days=past, missing=missing, suspect=suspect),
    ]
    issued = season.status.ahead_issued
    ahead = len(season.days) - past
    if ahead and issued is not None:
        said.append(words.DAYS_AHEAD.format(count=ahead, issued=day(issued)))
    else:
        said.append(words.DAYS_NOT_AHEAD)
    return " ".join(said)


def _frost(season: SiteSeason) -> Component:
    kill, bloom, days = season.kill, season.bloom, season.frost_days
    lines: list[Component] = []
    if bloom is None or days is None:
        said = words.FROST_NO_BLOOM.format(cultivar=shown(season.cultivar))
    else:
        coldest = min(season.frosts, key=lambda night: night.tmin_c, default=None)
        none = words.FROST_NONE if season.frost_days_known else words.FROST_UNKNOWN
        said = filled(words.FROST_SOME if coldest else none).format(
            cultivar=shown(season.cultivar),
            first=day(days[0], days[1]),
            last=day(days[1]),
            bloom=day(bloom.date, days[1]),
            seen=words.FROST_SEEN_BLOOM if bloom.seen else words.FROST_FORECAST_BLOOM,
            nights=count(len(season.frosts), words.FROST_NIGHT, words.FROST_NIGHTS),
            coldest=degrees(coldest.tmin_c) if coldest else "",
            date=day(coldest.date, days[1]) if coldest else "",
        )
        whole = (days[1] - days[0]).days + 1
        if 0 < season.frost_days_known < whole:
            missing = whole - season.frost_days_known
            said += words.FROST_PARTLY.format(missing=missing, days=whole)
        lines = [
            html.Li(
                (words.FROST_FORETOLD if night.foretold else words.FROST_SEEN).format(
                    date=day(night.date), temperature=degrees(night.tmin_c)
                )
            )
            for night in season.frosts
        ]
    harm = (
        words.FROST_KILL.format(kill=degrees(kill.kill10_c), source=kill.source)
        if kill
        else words.FROST_KILL_UNKNOWN.format(species=shown(season.species))
    )
    return html.Div(
        [
            html.H3(words.FROST_TITLE),
            html.P(said),
            html.Ul(lines) if lines else None,
            html.P(harm, className="quiet"),
        ],
        className="part",
    )


def _sources(season: SiteSeason, as_of: date) -> Component:
    """Who the weather is from, how fresh it is, on what terms."""
    status, lines = season.status, []
    for each in status.sources:
        line = words.SOURCE_LINE.format(
            name=shown(each.name),
            used=f"{each.used:,}",
            days=f"{each.days:,}",
            first=day(each.first) if each.first else "?",
            last=day(each.last) if each.last else "?",
            fetched=words.SOURCE_FETCHED.format(date=day(each.fetched_at.date()))
            if each.fetched_at
            else "",
        )
        own = each.attribution == each.licence
        terms = words.SOURCE_OWN if own else words.SOURCE_TERMS
        line += terms.format(attribution=shown(each.attribution, 200), licence=each.licence)
        stations = [
            html.Li(
                words.STATION_LINE.format(
                    name=shown(use.name or use.station),
                    distance=measures.said(use.distance_km, "km", 0),
                    share=percent(use.share),
                )
            )
            for use in each.stations
        ]
        lines.append(html.Li([line, html.Ul(stations) if stations else None]))
    said = [] if status.sources else [words.SOURCE_NONE]
    if status.last is not None:
        old = (as_of - status.last).days
        stale = words.STALE if old > STALE_DAYS else words.FRESH
        said.append(
            stale.format(last=day(status.last), days=count(old, words.ONE_DAY, words.MANY_DAYS))
        )
    if status.gaps:
        gap = status.gaps[0]
        days = day(gap.first) if gap.first == gap.last else span(gap.first, gap.last)
        missing = count(status.missing, words.ONE_DAY, words.MANY_DAYS)
        said.append(words.GAPS.format(missing=missing, gap=days))
    return html.Div(
        [
            html.H3(words.SOURCES_TITLE),
            html.Ul(lines) if lines else None,
            html.P(" ".join(said), className="quiet"),
        ],
        className="part",
    )


def _tables(seasons: Sequence[SiteSeason]) -> Component:
    weeks = [
        {name: row.get(name) for name in words.COLUMNS} | {"site": shown(each.site)}
        for each in seasons
        for row in weekly(each)
    ]
    return html.Div(
        [
            pieces.table(weeks, words.COLUMNS, "weather", words.TABLE_TITLE),
            pieces.table(
                [row for each in seasons for row in _day_rows(each)],
                words.DAY_COLUMNS,
                "days",
                words.DAYS_TABLE_TITLE,
            ),
        ]
    )


def _day_rows(season: SiteSeason) -> list[dict[str, object]]:
    return [
        {
            "site": shown(season.site),
            "date": one.date.isoformat(),
            "tmin": measures.cell(one.tmin_c, "°C", 1),
            "tmax": measures.cell(one.tmax_c, "°C", 1),
            "kind": words.KIND_NAMES[one.kind],
            "note": measures.retold(one.note),
        }
        for one in reversed(season.days)
    ]
