"""Stopgap: a light meter made of photos, for cameras that have none."""
