"""All that the tables know of one substance."""
