"""What is written about the commands: made from the parsers themselves, for people, for ``man`` and for shells."""
