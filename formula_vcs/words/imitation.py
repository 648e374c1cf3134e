"""Somebody else's text that reads like a verdict of ours."""

from __future__ import annotations

from typing import Final

from formula_vcs.words.deceptive import fold
from formula_vcs.words.late_pattern import late_pattern

_INNER: Final = str.maketrans(dict.fromkeys('\u201c\u201d\u201e\u201f\u00ab\u00bb"', "'"))
# What people and code hosts set before a verdict: ticks, crosses, lights, signs of warning, thumbs
_SIGNS: Final = late_pattern(
    "[\u2705\u2713\u2714\u2611\u2610\u2612\u274c\u274e\u2716\u2717\u2718\u26d4\u26a0\u2b55\u2755\u2757"
    "\U0001f534\U0001f7e0\U0001f7e1\U0001f7e2\U0001f6ab\U0001f6d1\U0001f6a8\U0001f197"
    "\U0001f44d\U0001f44e\U0001f4af\U0001f5f8\U0001f5f9\U0001f512\U0001f3c6\U0001f947]"
)
# What our own reports, and people about a merge, say of a change
_OURS: Final = late_pattern(
    r"\bnothing (?:blocks|is blocked)\b|\b(?:do not |does not )?blocks? (?:this|the) merge\b"
    r"|\b(?:safe|ready|ok|okay|free) to merge\b|\bmerge (?:it|this)\b|\ball checks (?:have )?passed\b"
    r"|\bpasse[sd] (?:its|the|all) checks?\b"
)
# What is said in passing too, and is no name of a product
_IN_A_TITLE: Final = late_pattern(
    r"\bno (?:findings?|warnings?|difference)\b"
    r"|\b(?:approved|checked|reviewed|verified|signed|released|cleared)(?: by)?\b"
    r"|\bsafety assess(?:or|ed|ment)\b|\blgtm\b|\bblocked\b"
)


def imitation(text: str, *, title: bool) -> str:
    """Give what in a text reads like a verdict, "" where nothing does.

    >>> imitation("Nothing  BLOCKS", title=False), imitation("Rosehip hand cream", title=True)
    ('nothing blocks', '')
    """
    read = fold(text)
    found = _OURS.search(read)
    if found is None and title:
        found = _SIGNS.search(text) or _IN_A_TITLE.search(read)
    return "" if found is None else found[0]


def headed(title: str, name: str) -> str:
    """Give what stands in the heading of a thing with a title and an id; most have no other title than their id."""
    return titled(name) if title == name else f"{titled(title)} ({name})"


def titled(title: str) -> str:
    """Give a title as it may stand in a heading: one that reads like a verdict is a quotation, and cannot end it.

    >>> titled("Rosehip hand cream"), titled('Nothing blocks" (ok)').encode("ascii", "replace")
    ('Rosehip hand cream', b"titled ?Nothing blocks' (ok)?")
    """
    return f"titled {quotation(title)}" if imitation(title, title=True) else title


def quotation(text: str) -> str:
    """Quote a text that cannot end the quotation."""
    return f"\u201c{text.translate(_INNER)}\u201d"
