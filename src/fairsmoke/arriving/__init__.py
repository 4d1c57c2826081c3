"""Readings that come in: deduplicated, placed, named, flagged."""
