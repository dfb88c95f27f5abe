"""Rolls in SQLite."""
