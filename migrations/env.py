"""Run the migrations on the connection that was handed in, inside its transaction."""

from alembic import context

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=context.config.attributes["metadata"],
    render_as_batch=context.config.attributes["connection"].dialect.name == "sqlite",
    compare_type=True,
    compare_server_default=True,
)
with context.begin_transaction():
    context.run_migrations()
