"""What is recorded at the pit: kinds of entry, each accepted exactly once."""
