"""Stores in both databases."""

from databases import place, server, store

__all__ = ["place", "server", "store"]
