"""Readings that come in by themselves: from devices, a broker, files that grow."""
