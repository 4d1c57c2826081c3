"""Sentences for people: written once in English, translated where they are shown."""
