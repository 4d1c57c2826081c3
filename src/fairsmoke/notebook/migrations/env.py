"""What Alembic runs for every command: it works on the connection that it is given."""

from alembic import context

from fairsmoke.notebook.app_tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    render_as_batch=True,
    # The caller holds one transaction around everything.
    transactional_ddl=False,
)
context.run_migrations()
