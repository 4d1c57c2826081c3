"""The record as plain typed data: trials, cooks, pieces, readings, events, weighings, ballots."""
