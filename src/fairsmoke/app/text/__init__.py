"""Every message in one place, in every language, and the languages there are."""
