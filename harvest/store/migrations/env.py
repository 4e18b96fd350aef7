"""Runs the migrations on the engine that `harvest.store.orchard` hands over."""

from alembic import context

from harvest.store.orchard import VERSION_TABLE
from harvest.store.schema import metadata

engine = context.config.attributes["engine"]
with engine.connect() as connection:
    connection = connection.execution_options(harvest_write=True)
    context.configure(
        connection=connection,
        target_metadata=metadata,
        version_table=VERSION_TABLE,
        render_as_batch=True,
        # SQLite can do it as well: all steps or none, and no other program between two of them.
        transactional_ddl=True,
    )
    with context.begin_transaction():
        context.run_migrations()
    connection.commit()
