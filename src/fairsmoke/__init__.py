"""Fairsmoke: find out whether another way of barbecuing is really better."""

__version__ = "0.1.0"
