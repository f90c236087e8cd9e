"""Closed repair orders: read, checked, counted as patterns, for analysts."""
