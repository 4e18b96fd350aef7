"""What people decide about the weather: whom to trust, which days are right, how to fill gaps."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sqlalchemy import Connection, select

from harvest.errors import InputError, UnknownNameError
from harvest.store.history import UNSIGNED, Signature, batch
from harvest.store.orchard import Orchard
from harvest.store.schema import TABLES
from harvest.store.sites import SiteRow, read_site, read_site_names
from harvest.store.weather import read_sources, sift_sites
from harvest.store.weather_hours import read_gap_rules, save_gap_rules
from harvest.store.weather_status import SuspectDay, suspect_days
from harvest.weather.gaps import DEFAULT_RULES, checked_rules
from harvest.weather.rules import CROSSED, IMPOSSIBLE

SAID = {
    "tmin_c": "minimum {:g} °C",
    "tmax_c": "maximum {:g} °C",
    "precip_mm": "rain {:g} mm",
    "wind_kmh": "wind {:g} km/h",
}
# Rules under which no value can be true; such a day is corrected, not confirmed.
NEVER_TRUE = (IMPOSSIBLE, CROSSED)


def trust_weather(
    orchard: Orchard, site: str, order: Sequence[str], signed: Signature = UNSIGNED
) -> list[str]:
    """Set which source of a site counts first; returns the whole order as it now stands.

    Sources not named follow by their kind. Nothing measured changes: the record is merged anew
    whenever it is read.

    Raises UnknownNameError for a site or source not on record.
    """
    with orchard.writing() as connection:
        row = read_site(connection, site)
        before = _order(connection, row)
        folded = {name.casefold(): name for name in before}
        for name in order:
            if name.casefold() not in folded:
                raise UnknownNameError(f"weather source of {row.site}", name, list(before))
        ranks = {folded[name.casefold()]: place for place, name in enumerate(order)}
        with batch(connection, "trust", signed) as made:
            trust = {number: {"trust": ranks.get(name)} for name, number in before.items()}
            made.change("weather_sources", trust)
            after = list(_order(connection, row))
            made.note = f"{row.site}: {' before '.join(after)} (was: {' before '.join(before)})"
        return after


def _order(connection: Connection, site: SiteRow) -> dict[str, int]:
    """A site's sources and their ids, most trusted first."""
    sources = read_sources(connection)
    own = sources[sources["site_id"] == site.id]
    return dict(zip(map(str, own["source"]), map(int, own["id"]), strict=True))


def confirm_weather(
    orchard: Orchard,
    site: str,
    dates: Sequence[date],
    source: str | None = None,
    signed: Signature = UNSIGNED,
) -> list[SuspectDay]:
    """Say that suspect days are right, so that they count; returns what they were suspected of.

    Raises InputError when a day is not suspect, or holds what cannot be true.
    """
    with orchard.writing() as connection:
        row = read_site(connection, site)
        found = sift_sites(connection, site=row.site).get(row.site)
        known = [] if found is None else suspect_days(found)
        confirmed = [
            suspect for day in dict.fromkeys(dates) for suspect in _on(row, known, day, source)
        ]
        said = (
            f"{s.source} {s.date} {SAID[s.column].format(s.value)} ({s.rule})" for s in confirmed
        )
        with batch(connection, "confirm", signed, f"{row.site}: {'; '.join(said)}") as made:
            days = {_day_id(connection, row, suspect): {"confirmed": True} for suspect in confirmed}
            made.change("weather", days)
    return confirmed


def _on(
    site: SiteRow, known: Sequence[SuspectDay], day: date, source: str | None
) -> list[SuspectDay]:
    """What is suspect on a day and may be confirmed. Raises InputError."""
    mine = [
        suspect for suspect in known if suspect.date == day and source in (None, suspect.source)
    ]
    if not mine:
        raise InputError(
            "only a suspect day can be confirmed",
            given=f"{day}, which is not suspect",
            where=site.site,
            todo="'harvest weather status' lists the suspect days.",
        )
    for suspect in mine:
        if suspect.rule in NEVER_TRUE:
            raise InputError(
                "a value that cannot be true is corrected, not confirmed",
                given=f"{suspect.column} {suspect.value:g} on {day}: {suspect.rule}",
                where=f"{site.site}, source {suspect.source}",
                todo="Import the right values for that day.",
            )
    return mine


def _day_id(connection: Connection, site: SiteRow, suspect: SuspectDay) -> int:
    table = TABLES["weather"]
    query = select(table.c.id).where(
        table.c.site_id == site.id,
        table.c.source == suspect.source,
        table.c.date == suspect.date,
    )
    return int(connection.execute(query).scalar_one())


def choose_gap_rules(
    orchard: Orchard,
    rules: Sequence[str],
    site: str | None = None,
    signed: Signature = UNSIGNED,
) -> dict[str, tuple[str, ...]]:
    """Set how missing days are filled at a site, or at all; returns the rules of each.

    Nothing measured changes: gaps are filled anew whenever the record is read, as of any day from
    what was known on it.

    Parameters
    ----------
    rules : names out of `gap_rules()`, in the order in which they are tried; empty: the usual ones.

    Raises QuantityError for rules that have no such name or do not go together, UnknownNameError
    for a site not on record.
    """
    chosen = checked_rules(rules) if rules else None
    with orchard.writing() as connection:
        names = read_site_names(connection)
        named = [read_site(connection, name) for name in ([site] if site else names)]
        before = read_gap_rules(connection)
        was = "; ".join(f"{row.site}: {_said(before.get(row.site))}" for row in named)
        with batch(connection, "fill gaps", signed, f"{_said(chosen)} (was: {was})") as made:
            for row in named:
                save_gap_rules(made, row.id, chosen)
        own = read_gap_rules(connection)
        return {row.site: own.get(row.site, DEFAULT_RULES) for row in named}


def _said(rules: Sequence[str] | None) -> str:
    return "the usual rules" if rules is None else ", then ".join(rules)
