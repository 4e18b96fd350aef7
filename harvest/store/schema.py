"""The orchard's tables in the database, and the versions they have gone through.

Names are unique without regard to case (`*_key` holds the case-folded name). What a record hangs
on is a foreign key; limits and one-of-these values are checks in the database itself, built from
the same description as everything else (`harvest.records`, `harvest.units`).
"""

from __future__ import annotations

from datetime import date, time

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    ColumnElement,
    Date,
    DateTime,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    Time,
    UniqueConstraint,
    false,
)
from sqlalchemy.schema import SchemaItem

from harvest.records import KINDS, Field, fields
from harvest.units import QUANTITIES
from harvest.weather.hours import HOURS

# Every schema version there has been, oldest first; the names of the migrations.
VERSIONS = tuple(f"{number:04}" for number in range(1, 18))

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

_SQL_TYPES: dict[type, type] = {
    str: Text,
    float: Float,
    int: Integer,
    bool: Boolean,
    date: Date,
    time: Time,
}


def _column(field: Field) -> SchemaItem:
    return Column(field.name, _SQL_TYPES[field.type], nullable=not field.value_needed)


def _checks(kind: str) -> list[CheckConstraint]:
    found = []
    for field in fields(kind):
        quantity = QUANTITIES.get(field.header)
        # Weather that cannot be is kept and marked suspect, not refused.
        if quantity is not None and kind != "weather":
            found.append(
                CheckConstraint(
                    f"{field.name} >= {quantity.low} AND {field.name} <= {quantity.high}",
                    name=field.name,
                )
            )
        if field.choices:
            listed = ", ".join(f"'{choice}'" for choice in field.choices)
            found.append(CheckConstraint(f"{field.name} IN ({listed})", name=field.name))
    return found


def _of_source() -> ForeignKeyConstraint:
    return ForeignKeyConstraint(
        ["site_id", "source"], ["weather_sources.site_id", "weather_sources.source"]
    )


def _table(kind: str) -> Table:
    """The table of one kind: an id, what the record hangs on, its own columns, its checks."""
    owner = KINDS[kind].owner
    either = len(owner) > 1
    owners: list[SchemaItem] = [
        Column(f"{name}_id", ForeignKey(f"{name}s.id"), nullable=either) for name in owner
    ]
    own: list[SchemaItem] = [_column(field) for field in fields(kind) if field.name not in owner]
    extra: list[SchemaItem] = []
    if kind in ("sites", "trees"):
        extra += [Column(f"{kind[:-1]}_key", Text, nullable=False, unique=True)]
    if kind == "weather":
        own.insert(1, Column("source", Text, nullable=False))
        extra += [
            Column("confirmed", Boolean, nullable=False, server_default=false()),
            UniqueConstraint("site_id", "source", "date"),
            _of_source(),
        ]
    elif either:
        extra += [
            CheckConstraint("(tree_id IS NULL) <> (site_id IS NULL)", name="one_owner"),
            Index(None, "tree_id", "date"),
            Index(None, "site_id", "date"),
        ]
    elif owner == ("tree",) and kind != "picks":
        key = ["tree_id" if name == "tree" else name for name in KINDS[kind].key]
        extra += [UniqueConstraint(*key)]
    identity = Column("id", Integer, primary_key=True)
    return Table(kind, metadata, identity, *owners, *own, *_checks(kind), *extra)


TABLES: dict[str, Table] = {kind: _table(kind) for kind in KINDS}


def _once(name: str, kind: str, columns: str, only: ColumnElement[bool] | None = None) -> None:
    """A unique index, of all rows or only of some."""
    keyed = [TABLES[kind].c[column] for column in columns.split()]
    Index(name, *keyed, unique=True, sqlite_where=only, postgresql_where=only)


# Picks by tree and day; one unnumbered pick of a tree a day, and one of each pass number.
Index(None, TABLES["picks"].c.tree_id, TABLES["picks"].c.date)
_PASS = TABLES["picks"].c.pass_number
_once("uq_picks_unnumbered", "picks", "tree_id date", _PASS.is_(None))
_once("uq_picks_numbered", "picks", "tree_id date pass_number", _PASS.is_not(None))

# One spray of a product on a tree or a site a day, and one at each time of day that is known; one
# event of a sort. A row without a tree (or site) is let pass by the index of trees (or sites).
# That names differ in more than case is seen to under the write lock (`harvest.store.checking`).
_TIME = TABLES["sprays"].c.time_of_day
for _owner in ("tree", "site"):
    _day = f"{_owner}_id date"
    _once(f"uq_sprays_{_owner}_day", "sprays", f"{_day} product", _TIME.is_(None))
    _once(f"uq_sprays_{_owner}_time", "sprays", f"{_day} time_of_day product", _TIME.is_not(None))
    _once(f"uq_events_{_owner}", "events", f"{_day} event")

# Where a site's weather comes from: on whose terms, how far it is trusted (lower first; none:
# by its kind), and for a logger how its columns are to be read.
WEATHER_SOURCES = Table(
    "weather_sources",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("site_id", ForeignKey("sites.id"), nullable=False),
    Column("source", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("attribution", Text),
    Column("licence", Text),
    Column("fetched_at", DateTime),
    Column("trust", Integer),
    Column("layout", Text),
    CheckConstraint("kind IN ('logger', 'file', 'archive', 'stations', 'model')", name="kind"),
    UniqueConstraint("site_id", "source"),
)

# The stations that a source's days were worked out from, nearest first.
WEATHER_STATIONS = Table(
    "weather_stations",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("source_id", ForeignKey("weather_sources.id"), nullable=False),
    Column("station", Text, nullable=False),
    Column("name", Text),
    Column("distance_km", Float),
    Column("elevation_m", Float),
    Column("first_day", Date),
    Column("last_day", Date),
    Column("days", Integer),
    Column("share", Float),
    UniqueConstraint("source_id", "station"),
)

# Days that were still to come when they were forecast; every issue is kept.
WEATHER_AHEAD = Table(
    "weather_ahead",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("site_id", ForeignKey("sites.id"), nullable=False),
    Column("source", Text, nullable=False),
    Column("issued", Date, nullable=False),
    Column("date", Date, nullable=False),
    Column("tmin_c", Float),
    Column("tmax_c", Float),
    Column("precip_mm", Float),
    Column("wind_kmh", Float),
    CheckConstraint("date >= issued", name="not_before_issued"),
    UniqueConstraint("site_id", "source", "issued", "date"),
    _of_source(),
)

# The rules by which a site's missing days are filled, most wanted first, between commas; a site
# that is not here has the usual ones.
WEATHER_GAPS = Table(
    "weather_gaps",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("site_id", ForeignKey("sites.id"), nullable=False),
    Column("rules", Text, nullable=False),
    UniqueConstraint("site_id"),
)

# Temperatures measured every hour [degC], a row for each day of UTC: h05_c is that of 05:00 UTC.
WEATHER_HOURS = Table(
    "weather_hours",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("site_id", ForeignKey("sites.id"), nullable=False),
    Column("source", Text, nullable=False),
    Column("date", Date, nullable=False),
    *(Column(name, Float) for name in HOURS),
    UniqueConstraint("site_id", "source", "date"),
    _of_source(),
)

# What people said about the items of their calendar: done, moved, switched off, added.
CALENDAR_MARKS = Table(
    "calendar_marks",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("mark", Text, nullable=False),
    Column("target", Text, nullable=False),
    Column("marked_on", Date, nullable=False),
    Column("site_id", ForeignKey("sites.id")),
    Column("title", Text),
    Column("first_day", Date),
    Column("last_day", Date),
    Column("why", Text),
    Column("what", Text),
    Column("degree_days", Float),
    Column("base_c", Float),
    Column("upper_c", Float),
    Column("count_from", Date),
    Column("count_event", Text),
    CheckConstraint("mark IN ('done', 'moved', 'off', 'added')", name="mark"),
    CheckConstraint("last_day >= first_day", name="days_in_order"),
    UniqueConstraint("mark", "target"),
)

# Photos and notes that people attached to a record; `sha256` is their content, kept beside a SQLite
# file or, on a server, in the table that follows. Ids of records are not foreign keys: the tables
# differ by kind.
ATTACHMENTS = Table(
    "attachments",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("record_id", Integer, nullable=False),
    Column("tree_id", ForeignKey("trees.id")),
    Column("site_id", ForeignKey("sites.id")),
    Column("date", Date, nullable=False),
    Column("filename", Text, nullable=False),
    Column("media_type", Text, nullable=False),
    Column("bytes", Integer, nullable=False),
    Column("sha256", Text, nullable=False),
    Column("note", Text),
    Column("who", Text, nullable=False),
    Column("attached_at", DateTime),
    CheckConstraint("bytes > 0", name="bytes"),
    CheckConstraint("length(sha256) = 64", name="sha256"),
    UniqueConstraint("kind", "record_id", "sha256"),
    Index(None, "tree_id"),
)

ATTACHED_FILES = Table(
    "attached_files",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("data", LargeBinary, nullable=False),
)

# What the orchard says of itself: its name, whether it is the demo, settings people chose.
SETTINGS = Table(
    "settings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("value", Text, nullable=False),
    UniqueConstraint("name"),
)

# History. A batch is what one command did: who, when (UTC), what from; `summary` counts the records
# it made, changed and took away, by kind (JSON). Nothing here is ever deleted.
BATCHES = Table(
    "batches",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("action", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("made_at", DateTime),
    Column("note", Text),
    Column("summary", Text, nullable=False),
    Column("undoes", ForeignKey("batches.id")),
    Column("undone_by", ForeignKey("batches.id")),
)

# What other orchards' seasons say of a cultivar: days from full bloom to ripe, mean and spread over
# the seasons, as they wrote it down to be passed on.
EXPERIENCE = Table(
    "experience",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("orchard", Text, nullable=False),
    Column("species", Text, nullable=False),
    Column("cultivar", Text, nullable=False),
    Column("latitude", Float),
    Column("seasons", Integer, nullable=False),
    Column("trees", Integer, nullable=False),
    Column("days_mean", Float, nullable=False),
    Column("days_sd", Float),
    Column("first_season", Integer, nullable=False),
    Column("last_season", Integer, nullable=False),
    Column("taken_on", Date, nullable=False),
    CheckConstraint("seasons > 0 AND trees > 0 AND days_mean > 0", name="counts"),
    CheckConstraint("last_season >= first_season", name="seasons_in_order"),
    UniqueConstraint("orchard", "species", "cultivar"),
)

# Warnings that a person looked at and let stand, by the rule and the facts it was about.
DISMISSED = Table(
    "dismissed",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("rule", Text, nullable=False),
    Column("facts", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("dismissed_at", DateTime),
    UniqueConstraint("rule", "facts"),
)

# Every table whose rows keep a history, owners before what hangs on them.
TRACKED: dict[str, Table] = {
    "sites": TABLES["sites"],
    "weather_sources": WEATHER_SOURCES,
    **{kind: TABLES[kind] for kind in TABLES if kind != "sites"},
    "weather_stations": WEATHER_STATIONS,
    "weather_ahead": WEATHER_AHEAD,
    "weather_hours": WEATHER_HOURS,
    "weather_gaps": WEATHER_GAPS,
    "attachments": ATTACHMENTS,
    "calendar_marks": CALENDAR_MARKS,
    "experience": EXPERIENCE,
    "settings": SETTINGS,
    "dismissed": DISMISSED,
}
# Those of weather that comes in by the thousand: their changes are kept packed.
PACKED_KINDS = ("weather", "weather_stations", "weather_ahead", "weather_hours")

# What a batch did to one record: the columns that changed, before and after (JSON); no `before`
# means that it was made, no `after` that it was taken away. Ids are not foreign keys: a record
# that is gone keeps its history.
CHANGES = Table(
    "changes",
    metadata,
    Column("kind", Text, primary_key=True),
    Column("record_id", Integer, primary_key=True, autoincrement=False),
    Column("batch_id", ForeignKey("batches.id"), primary_key=True),
    Column("tree_id", Integer),
    Column("before", Text),
    Column("after", Text),
    Index(None, "batch_id"),
    Index(None, "tree_id"),
    sqlite_with_rowid=False,
)

# The same of many rows of weather at once, compressed (`harvest.store.history_packing`); `last_id`
# is the highest id among them.
PACKED_CHANGES = Table(
    "packed_changes",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("batch_id", ForeignKey("batches.id"), nullable=False),
    Column("last_id", Integer, nullable=False),
    Column("packed", LargeBinary, nullable=False),
    Index(None, "batch_id"),
)

# Entries that a page sent, by the id it gave them: one that is sent twice arrives once.
RECEIVED = Table(
    "received",
    metadata,
    Column("entry", Text, primary_key=True),
    Column("batch_id", ForeignKey("batches.id")),
    Column("received_at", DateTime),
)

# How often anything was written: one row, counted on a server, where no file's time tells.
WRITTEN = Table(
    "written",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("times", Integer, nullable=False),
)
