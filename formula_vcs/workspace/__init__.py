"""A whole workspace in the work tree, the index, a commit or memory; and its files over a history."""
