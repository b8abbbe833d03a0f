"""The book itself: one SQLite file."""
