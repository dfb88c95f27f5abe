"""Mirrors the rooms. published/ holds the outside values, each with its source and evidence."""
