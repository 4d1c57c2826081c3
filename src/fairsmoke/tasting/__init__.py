"""Taste blind: codes, serving orders, and the exact tests of difference, preference and rank."""
