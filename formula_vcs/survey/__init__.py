"""The whole portfolio in one question: every recipe on a day, and what would become of it if something changed."""
