"""Rendered places whose light is known, and the simulated cameras that photograph them."""
