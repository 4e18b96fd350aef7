"""What the weather commands print."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from harvest.cli.output import (
    Format,
    as_plain,
    complain,
    number,
    print_csv,
    print_json,
    print_table,
    say,
)
from harvest.service_weather import (
    FetchReport,
    SourceStatus,
    WeatherFileReport,
    WeatherStatus,
    weather_rules,
)

MOST_SHOWN = 12


def tell_fetch(report: FetchReport) -> None:
    """What fetching gave one site."""
    saved = report.saved
    say(
        f"{report.site}: {saved.new} days new, {saved.changed} changed, {saved.same} the same; "
        f"{report.modelled_days} recent days from a weather model, {report.days_ahead} days ahead, "
        f"{report.hours} measured hours."
    )
    _tell_stations(report.stations)
    say(f"Data: {report.attribution}. {'; '.join(report.licences)}")
    for note in report.notes:
        complain(note)


def tell_file(report: WeatherFileReport, form: Format) -> None:
    """What became of a file's days."""
    if form is Format.JSON:
        print_json([report])
        return
    if form is Format.CSV:
        print_csv([{"site": report.site, "source": report.source, **as_plain(report.saved)}])
        return
    saved = report.saved
    say(
        f"{report.site}, source {report.source}: {saved.new} days new, {saved.changed} changed, "
        f"{saved.same} the same{f'; {report.hours} measured hours' if report.hours else ''}."
    )
    for note in report.notes:
        complain(note)
    if report.suspect:
        complain(
            f"Suspect days of this source, left out of all sums: {report.suspect}; "
            "'harvest weather status' lists them."
        )


def status_json(row: WeatherStatus) -> dict[str, Any]:
    """One site as the JSON contract has it; our own keys come after those of the contract."""
    rules = weather_rules()
    return {
        "site": row.site,
        "from": as_plain(row.first),
        "to": as_plain(row.last),
        "days": row.days,
        "missing": row.missing,
        "sources": [
            {
                "name": source.name,
                "days": source.days,
                "attribution": source.attribution,
                "licence": source.licence,
                "kind": source.kind,
                "days_used": source.used,
                "from": as_plain(source.first),
                "to": as_plain(source.last),
                "fetched_at": source.fetched_at and f"{source.fetched_at.isoformat()}Z",
                "stations": as_plain(source.stations),
            }
            for source in row.sources
        ],
        "suspect": [
            {
                "date": as_plain(suspect.date),
                "column": suspect.column,
                "value": suspect.value,
                "rule": suspect.rule,
                "source": suspect.source,
                "meaning": rules[suspect.rule],
            }
            for suspect in row.suspect
        ],
        "confirmed": row.confirmed,
        "gaps": as_plain(row.gaps),
        "gap_rules": list(row.gap_rules),
        "filled": dict(row.filled),
        "hours": {
            "measured": row.hours,
            "from": as_plain(row.hours_first),
            "to": as_plain(row.hours_last),
        },
        "ahead": {"issued": as_plain(row.ahead_issued), "days": row.ahead_days},
    }


def flat_status(row: WeatherStatus) -> dict[str, Any]:
    """One site as a row of CSV; what is listed is counted."""
    return {
        "site": row.site,
        "from": row.first,
        "to": row.last,
        "days": row.days,
        "missing": row.missing,
        "sources": "; ".join(source.name for source in row.sources),
        "suspect": len(row.suspect),
        "gap_rules": ", ".join(row.gap_rules),
        "hours": row.hours,
        "days_ahead": row.ahead_days,
    }


def tell_status(row: WeatherStatus) -> None:
    """One site: from, to, sources, stations, gaps, suspect days."""
    if row.first is None:
        say(f"{row.site}: no weather on record. 'harvest weather fetch' asks the stations near by.")
        return
    say(
        f"{row.site}: {row.first:%d %b %Y} to {row.last:%d %b %Y}, {row.days} days with minimum "
        f"and maximum, {row.missing} missing."
    )
    print_table(
        "Sources, most trusted first",
        ("source", "kind", "days", "used", "from", "to", "fetched (UTC)"),
        [_source_line(source) for source in row.sources],
    )
    _tell_terms(row.sources)
    for source in row.sources:
        _tell_stations(source.stations)
    if row.ahead_days:
        say(f"Forecast of {row.ahead_issued:%d %b %Y}: {row.ahead_days} days ahead.")
    if row.hours:
        say(
            f"{row.hours} measured hours, {row.hours_first:%d %b %Y} to {row.hours_last:%d %b %Y}; "
            "other hours are worked out from minimum and maximum."
        )
    else:
        say("No measured hours: hours are worked out from minimum and maximum.")
    _tell_gaps(row)
    _tell_suspect(row)


def _source_line(source: SourceStatus) -> tuple[str, ...]:
    return (
        source.name,
        source.kind,
        str(source.days),
        str(source.used),
        f"{source.first or '–'}",
        f"{source.last or '–'}",
        f"{source.fetched_at or '–'}",
    )


def _tell_terms(sources: Sequence[SourceStatus]) -> None:
    """Whom to name for the data of which sources, and the licences; those alike together."""
    named: dict[tuple[str, str], list[str]] = {}
    for source in sources:
        named.setdefault((source.attribution, source.licence), []).append(source.name)
    for (attribution, licence), names in named.items():
        own = attribution == licence  # the keeper's own records
        say(f"{', '.join(names)}: {attribution}{'' if own else f'; licence: {licence}'}.")


def _tell_stations(stations: tuple[Any, ...]) -> None:
    if stations:
        print_table(
            "Stations",
            ("station", "id", "away", "height", "from", "newest day", "days", "share"),
            [
                (
                    use.name,
                    use.station,
                    number(use.distance_km, 1, "km"),
                    number(use.elevation_m, 0, "m"),
                    f"{use.first_day}",
                    f"{use.last_day}",
                    str(use.days),
                    f"{use.share:.0%}",
                )
                for use in stations
            ],
        )


def _tell_gaps(row: WeatherStatus) -> None:
    if row.gaps:
        shown = ", ".join(
            f"{gap.first}" if gap.days == 1 else f"{gap.first} to {gap.last} ({gap.days} days)"
            for gap in row.gaps[:MOST_SHOWN]
        )
        more = len(row.gaps) - MOST_SHOWN
        say(f"Gaps, longest first: {shown}{f' and {more} more' if more > 0 else ''}.")
    filled = ", ".join(
        f"{days} {'still missing' if rule == 'none' else f'by {rule}'}"
        for rule, days in row.filled.items()
    )
    say(f"Gap rules: {then(row.gap_rules)}{f'; days filled: {filled}' if filled else ''}.")


def then(rules: Sequence[str]) -> str:
    """Gap rules in the order in which they are tried."""
    return ", then ".join(rules)


def _tell_suspect(row: WeatherStatus) -> None:
    if not row.suspect:
        return
    print_table(
        "Suspect days: kept, but left out of all sums until confirmed",
        ("date", "column", "value", "rule", "source"),
        [
            (f"{s.date}", s.column, f"{s.value:g}", s.rule, s.source)
            for s in row.suspect[:MOST_SHOWN]
        ],
    )
    if len(row.suspect) > MOST_SHOWN:
        say(f"… and {len(row.suspect) - MOST_SHOWN} more; --format json lists all.")
    rules = weather_rules()
    for rule in dict.fromkeys(suspect.rule for suspect in row.suspect):
        say(f"{rule}: {rules[rule]}")
    say("If a day is right: harvest weather confirm SITE DATE. If not: import the right values.")
