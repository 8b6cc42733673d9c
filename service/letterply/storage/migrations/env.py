"""Run by Alembic: migrates over the connection that it is handed."""

from alembic import context

from letterply.storage.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    version_table="letterply_layout",
    render_as_batch=True,
)
context.run_migrations()
