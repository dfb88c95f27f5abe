"""One file a place: what stands there, what lights it, from where it is seen."""
