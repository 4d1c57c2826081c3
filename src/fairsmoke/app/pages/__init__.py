"""Pages, one module a place."""
