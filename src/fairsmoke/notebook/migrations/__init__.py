"""Migrations of the tables, oldest first; docs/notebook.md says how to add one."""
