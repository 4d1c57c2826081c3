"""The day planned back from the serving time."""
