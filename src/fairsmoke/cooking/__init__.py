"""The cooking simulator: one piece of meat through a protocol, and what came of it."""
