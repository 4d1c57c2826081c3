"""How many pairs: the probability that a layout settles its question, power, cost."""
