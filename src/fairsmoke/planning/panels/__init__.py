"""How many tasters a sensory test takes."""
