"""Which methods are worth a trial: a space of methods, Pareto fronts, contrasts."""
