"""The running cook as it stands: stages, probes, alerts, curves."""
