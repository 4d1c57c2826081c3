"""Judge: how large the difference is, how sure, and in which fixed words it is said."""
