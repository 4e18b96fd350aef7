"""The migrations lead to the tables that the code describes, from every version there has been."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, insert, inspect, text
from sqlalchemy.exc import IntegrityError

from harvest.errors import ConflictError, StoreError
from harvest.store import orchard as store
from harvest.store.about import About, read_about
from harvest.store.history import UNSIGNED
from harvest.store.history_reading import read_batches
from harvest.store.orchard import VERSION_TABLE, Orchard, open_orchard, orchard_url
from harvest.store.reading import count_kinds, read_kind, read_records
from harvest.store.schema import TABLES, VERSIONS, metadata
from harvest.store.undoing import undo
from tests import postgres
from tests.orchards import TODAY, plant


def scripts() -> ScriptDirectory:
    config = Config()
    config.set_main_option("script_location", "harvest.store:migrations")
    return ScriptDirectory.from_config(config)


@contextmanager
def engine_of(address: str) -> Iterator[Engine]:
    """A raw engine with the store's own settings, at any version."""
    engine = store._engine(orchard_url(address))
    try:
        yield engine
    finally:
        engine.dispose()


def shape(engine: Engine) -> dict[str, Any]:
    """Every table as the database describes it: columns, keys, checks, indexes."""
    found = inspect(engine)
    return {
        table: {
            "columns": sorted(
                (c["name"], str(c["type"]), c["nullable"], str(c["default"]))
                for c in found.get_columns(table)
            ),
            "key": found.get_pk_constraint(table)["constrained_columns"],
            "foreign": sorted(
                (str(f["name"]), f["constrained_columns"], f["referred_table"])
                for f in found.get_foreign_keys(table)
            ),
            "unique": sorted(
                (str(u["name"]), u["column_names"]) for u in found.get_unique_constraints(table)
            ),
            "checks": sorted(
                (str(c["name"]), " ".join(c["sqltext"].split()))
                for c in found.get_check_constraints(table)
            ),
            "indexes": sorted(
                (str(i["name"]), i["column_names"], bool(i["unique"]))
                for i in found.get_indexes(table)
            ),
        }
        for table in sorted(set(found.get_table_names()) - {VERSION_TABLE})
    }


def test_the_versions_named_are_those_of_the_scripts_in_their_order() -> None:
    revisions = [script.revision for script in scripts().walk_revisions()]
    assert tuple(reversed(revisions)) == VERSIONS
    assert scripts().get_heads() == [VERSIONS[-1]]


def test_alembic_finds_no_difference(orchard: Orchard) -> None:
    with orchard.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"version_table": VERSION_TABLE})
        assert compare_metadata(context, metadata) == []


def test_migrated_tables_are_those_made_at_once_on_sqlite(
    sqlite_address: str, tmp_path: Path
) -> None:
    with engine_of(sqlite_address) as migrated, engine_of(str(tmp_path / "fresh.db")) as fresh:
        metadata.create_all(fresh)
        found = shape(migrated)
        assert found == shape(fresh)
    assert set(found) == set(metadata.tables)
    assert len(found["picks"]["checks"]) >= 7


def test_migrated_tables_are_those_made_at_once_on_postgresql(
    postgres_folder: Path, postgres_template: str, postgres_address: str
) -> None:
    with (
        postgres.fresh_database(postgres_folder, postgres_template) as address,
        engine_of(address) as migrated,
        engine_of(postgres_address) as fresh,
    ):
        metadata.create_all(fresh)
        found = shape(migrated)
        assert found == shape(fresh)
    assert set(found) == set(metadata.tables)


@pytest.fixture(params=["sqlite", "postgresql"])
def first_version(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Address of an orchard as the first version made it, with a few records."""
    if request.param == "sqlite":
        address = str(tmp_path / "old.sqlite")
    else:
        address = request.getfixturevalue("postgres_address")
    config = Config()
    config.set_main_option("script_location", "harvest.store:migrations")
    with engine_of(address) as engine:
        config.attributes["engine"] = engine
        command.upgrade(config, "0001")
        with engine.begin() as connection:
            for statement in (
                "INSERT INTO sites (id, site, site_key, latitude, longitude)"
                " VALUES (1, 'Home', 'home', 51.5, -1.25)",
                "INSERT INTO trees (id, tree, tree_key, site_id, species, cultivar, planted)"
                " VALUES (1, 'A', 'a', 1, 'apple', 'Gala', '2015-01-15')",
                "INSERT INTO weather (id, site_id, date, source, tmin_c, tmax_c)"
                " VALUES (1, 1, '2024-02-29', 'file', -1.5, 9.25)",
                "INSERT INTO picks (id, tree_id, date, weight_kg, last)"
                " VALUES (1, 1, '2024-09-12', 12.4, true)",
                "INSERT INTO settings (name, value) VALUES ('note', 'b'), ('name', 'Ours')",
            ):
                connection.execute(text(statement))
    return address


def test_an_orchard_of_the_first_version_keeps_its_records(first_version: str) -> None:
    opened = open_orchard(first_version)
    with opened.engine.connect() as connection:
        version = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalar_one()
    assert version == VERSIONS[-1]
    counts = count_kinds(opened)
    assert {kind: n for kind, n in counts.items() if n} == {
        "sites": 1, "trees": 1, "weather": 1, "picks": 1,
    }  # fmt: skip
    known = read_records(opened, date(2025, 1, 1))
    assert known.weather[["tmin_c", "tmax_c"]].to_numpy().tolist() == [[-1.5, 9.25]]
    assert known.picks["weight_kg"].tolist() == [12.4]
    assert known.picks["last"].tolist() == [True]
    assert read_about(opened) == About(name="Ours", note="b")
    opened.engine.dispose()
    again = open_orchard(first_version)
    assert count_kinds(again) == counts
    again.engine.dispose()


def test_migrations_that_fail_half_way_leave_the_orchard_as_it_was(first_version: str) -> None:
    """Here a table stands in the way of the last of them."""
    with engine_of(first_version) as engine:
        with engine.begin() as connection:
            connection.execute(text("CREATE TABLE written (id INTEGER)"))
        before = shape(engine)
        with pytest.raises(StoreError, match="written"):
            open_orchard(first_version)
        assert shape(engine) == before
        with engine.begin() as connection:
            version = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}"))
            assert version.scalar_one() == "0001"
            connection.execute(text("DROP TABLE written"))
    opened = open_orchard(first_version)
    assert count_kinds(opened)["picks"] == 1
    opened.engine.dispose()


def doubled_up(connection: Connection) -> None:
    """Sprays and events twice, as only a raw program could leave them, and what hangs on them."""
    for statement in (
        "INSERT INTO sprays (id, tree_id, site_id, date, time_of_day, product, withholding_days,"
        " rate, note) VALUES"
        " (1, 1, NULL, '2025-05-01', NULL, 'Soap', 3, '5 g/l', 'calm'),"
        " (2, 1, NULL, '2025-05-01', NULL, 'Soap', 7, '8 g/l', 'windy'),"
        " (3, NULL, 1, '2025-05-01', '06:30:00.000000', 'Soap', 3, NULL, NULL),"
        " (4, NULL, 1, '2025-05-01', '06:30:00.000000', 'Soap', NULL, NULL, NULL),"
        " (5, NULL, 1, '2025-05-01', NULL, 'Soap', 3, NULL, NULL)",
        "INSERT INTO events (id, tree_id, site_id, date, event, severity, note) VALUES"
        " (1, 1, NULL, '2025-04-20', 'frost', NULL, NULL),"
        " (2, 1, NULL, '2025-04-20', 'frost', 2, NULL),"
        " (3, 1, NULL, '2025-04-20', 'frost', 2, NULL),"
        " (4, 1, NULL, '2025-04-20', 'hail', 1, NULL)",
    ):
        connection.execute(text(statement))
    for number, (record, sha) in enumerate(((1, "a"), (2, "a"), (2, "b")), 1):
        connection.execute(
            text(
                "INSERT INTO attachments (id, kind, record_id, tree_id, date, filename, media_type,"
                " bytes, sha256, who) VALUES (:id, 'sprays', :record, 1, '2025-05-01', 'x.txt',"
                " 'text/plain', 1, :sha, 'Ada')"
            ),
            {"id": number, "record": record, "sha": sha * 64},
        )


def test_the_same_spray_twice_is_made_one_with_all_that_either_said(first_version: str) -> None:
    config = Config()
    config.set_main_option("script_location", "harvest.store:migrations")
    with engine_of(first_version) as engine:
        config.attributes["engine"] = engine
        command.upgrade(config, "0012")
        with engine.begin() as connection:
            doubled_up(connection)
    opened = open_orchard(first_version)
    with opened.reading() as connection:
        sprays = read_kind(connection, "sprays", with_id=True).set_index("id")
        events = read_kind(connection, "events", with_id=True).set_index("id")
        hung = connection.execute(
            text("SELECT record_id, sha256 FROM attachments ORDER BY sha256")
        ).all()
        gone = connection.execute(
            text("SELECT kind, record_id, before FROM changes WHERE after IS NULL ORDER BY 1, 2")
        ).all()
    assert sprays.index.sort_values().tolist() == [1, 3, 5]
    # The longer wait counts, and days that one row does not know are not known.
    assert sprays["withholding_days"].to_dict() == pytest.approx(
        {1: 7, 3: np.nan, 5: 3}, nan_ok=True
    )
    assert sprays.loc[1, "rate"] == "5 g/l"
    assert sprays.loc[1, "note"] == (
        "calm; also on record: withholding_days 3; also on record: rate 8 g/l; windy"
    )
    assert sprays.loc[3, "note"] == "also on record: withholding_days 3"
    assert events["severity"].to_dict() == {1: 2, 4: 1}
    assert [(record, sha[0]) for record, sha in hung] == [(1, "a"), (1, "b")]
    assert [(kind, record) for kind, record, _ in gone] == [
        ("attachments", 2), ("events", 2), ("events", 3), ("sprays", 2), ("sprays", 4),
    ]  # fmt: skip
    assert json.loads(gone[3].before) == {
        "tree_id": 1, "date": "2025-05-01", "product": "Soap", "withholding_days": 7,
        "rate": "8 g/l", "note": "windy",
    }  # fmt: skip
    (entry,) = read_batches(opened)
    assert (entry.action, entry.note) == (
        "edit", "the same spray or event on record twice: made one",
    )  # fmt: skip
    with pytest.raises(ConflictError, match="nothing else may hang on what change"):
        undo(opened, entry.number, UNSIGNED)
    opened.engine.dispose()


@pytest.mark.parametrize(
    ("kind", "values"),
    [("sprays", {"product": "Soap", "time_of_day": None}),
     ("sprays", {"product": "Soap", "time_of_day": time(6, 30)}),
     ("events", {"event": "frost"})],
)  # fmt: skip
@pytest.mark.parametrize("owner", ["tree_id", "site_id"])
def test_the_database_itself_refuses_the_same_spray_or_event_twice(
    orchard: Orchard, tmp_path: Path, owner: str, kind: str, values: dict[str, Any]
) -> None:
    plant(orchard, tmp_path)
    row = {owner: 1, "date": TODAY, **values}
    with orchard.writing() as connection:
        connection.execute(insert(TABLES[kind]), row)
        other = {**row, **({"event": "hail"} if kind == "events" else {"product": "Copper"})}
        connection.execute(insert(TABLES[kind]), other)
        connection.execute(insert(TABLES[kind]), {**row, owner: 2})
    with pytest.raises(IntegrityError), orchard.engine.begin() as connection:
        connection.execute(insert(TABLES[kind]), row)
    assert count_kinds(orchard)[kind] == 3
