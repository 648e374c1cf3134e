"""Law and standards as data, and one recipe before them."""
