"""Runs the migrations on the connection that :meth:`api.store.engine.Store.migrate` hands over."""

from alembic import context

from api.store.models import Base

context.configure(connection=context.config.attributes["connection"], target_metadata=Base.metadata)
context.run_migrations()
