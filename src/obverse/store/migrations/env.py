"""Run the migrations over the connection that the store hands in (one transaction for all)."""

from alembic import context

from obverse.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transactional_ddl=True,
)
context.run_migrations()
