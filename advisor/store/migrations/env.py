"""What Alembic runs: the steps, in the transaction of the connection that it was handed."""

from alembic import context

from advisor.store.tables import METADATA

context.configure(connection=context.config.attributes["connection"], target_metadata=METADATA)
context.run_migrations()
