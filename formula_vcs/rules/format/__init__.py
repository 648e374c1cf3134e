"""Rules about files: what could not be read, names that lead nowhere."""
