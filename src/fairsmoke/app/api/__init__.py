"""The JSON API: what scripts, phones and devices talk to."""
