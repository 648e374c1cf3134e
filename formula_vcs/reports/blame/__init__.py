"""A recipe line by line with the commit that each line is owed to."""
