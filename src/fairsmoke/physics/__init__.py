"""Physics of slow cooking: pure functions on numbers and arrays, each with range and source.

Modules: food, air, air_transport, surface, convection, water, kinetics, fat, history,
heat_resistance, cook_table, lethality, growth, limits; ranges and sources underneath.
Functions named bare_… are the same formulas without range checks, for compiled code: each is a
leaf that calls nothing of ours, so that it can be compiled alone. Check their inputs first.
"""

from fairsmoke.physics.ranges import ExtrapolationWarning, PhysicsRangeError, Range
from fairsmoke.physics.sources import Citation, Seen

__all__ = ["Citation", "ExtrapolationWarning", "PhysicsRangeError", "Range", "Seen"]
