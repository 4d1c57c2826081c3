"""Layouts of a comparison: draw them, match pieces, enumerate what a draw could have given."""
