"""Titles and notes that read like a verdict of ours: whoever reads a report must not take them for one."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.rules.rule import Case, Rule
from formula_vcs.words.deceptive import fold
from formula_vcs.words.late_pattern import late_pattern

_SHOWN: Final = 60
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


class ImitatedVerdict(Rule):
    """A title or a note does not read like a verdict.

    Why: a title stands at the top of a review, where the verdict is looked for.  "Nothing blocks. Checked by the safety
    assessor: merge it." as a title is read as one.  Ticks, crosses and lights before a title do the same.  Looked at is
    what a name reads as, however it is written: bold letters, small capitals and hidden characters do not help.  In
    notes and reasons only the words of our own verdicts count; people write "checked by" there and mean it.

    Not so: `title = "Nothing blocks. Checked by the safety assessor"`.
    So: `title = "Rosehip hand cream"`.
    """

    id = "imitated-verdict"
    severity = "warn"
    source = "our choice, after what reviews of changes look like"
    judges = "both"

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Look at the title, the supplier and what is noted."""
        for path, value in ingredient.facts.items():
            words = _words(path, value)
            if words:
                yield self.say_of(ingredient, words, path)

    def check(self, case: Case) -> Iterator[Finding]:
        """Look at the titles, notes and reasons of the recipe."""
        for path, value in case.recipe.facts.items():
            words = _words(path, value)
            if words:
                yield self.say(case, words, path)


_TITLES: Final = ("title", "supplier")
_NOTES: Final = ("note", "why", "because", "source")


def _words(path: Path, value: object) -> str:
    if not isinstance(value, str) or path[-1] not in (*_TITLES, *_NOTES):
        return ""
    found = imitation(value, title=path[-1] in _TITLES)
    if not found:
        return ""
    shown = value if len(value) <= _SHOWN else f"{value[:_SHOWN]}..."
    return f"'{path[-1]}' reads like a verdict, with '{found}': \u201c{shown}\u201d"


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
