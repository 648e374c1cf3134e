"""Merge two versions of a file in meaning: facts against facts, and the text of ours changed where theirs changed it.

``facts`` merges, ``charges``, ``steps`` and ``rows`` know what is the same line; ``comments`` merges what is no fact;
``markers`` shows what clashes; ``verdict`` judges what came of it; ``files`` puts the parts together.
"""
