"""A PostgreSQL server for the commands that look after it."""

from databases import server

__all__ = ["server"]
