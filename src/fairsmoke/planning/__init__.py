"""Plan a fair comparison: ask, draw, how many, register."""
