"""Pages for a browser: one file, no script, no network."""
