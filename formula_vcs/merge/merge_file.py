"""Merge a file: the texts of three versions in, one text out, with what clashes."""

from __future__ import annotations

from dataclasses import dataclass

from formula_vcs.diff.match import Grade
from formula_vcs.merge.comments import Comments, differing
from formula_vcs.merge.markers import Style, with_markers
from formula_vcs.merge.merge_facts import NotMergeable, merge_facts
from formula_vcs.merge.three_way import Clash, Ways
from formula_vcs.model.facts import Facts, stated
from formula_vcs.toml.facts_to_toml import CannotWrite
from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.syntax import parse
from formula_vcs.toml.write_facts import rewritten


@dataclass(frozen=True)
class MergedFile:
    """The text of a merge, with markers where something clashes."""

    text: str
    clashes: tuple[Clash, ...]


def no_grade(_: str) -> None:
    """Know no grades: without ingredients nothing says which two are grades of one material."""


NO_GRADES: Ways[Grade] = Ways(no_grade, no_grade, no_grade)


def merge_texts(
    kind: str, versions: Ways[bytes], grades: Ways[Grade] = NO_GRADES, style: Style | None = None
) -> MergedFile | None:
    """Merge a file of a kind; None where a version does not parse, or the merge cannot be written.

    The text is that of ours, changed only where theirs changed the meaning or a comment.
    """
    texts, facts = _read(kind, versions)
    if facts is None:
        return None
    try:
        merged = merge_facts(kind, facts, grades)
        text = rewritten(texts.ours, merged.facts.ours, kind, texts.theirs, texts.base)
        if not merged.clashes:
            return MergedFile(_commented(kind, text, Comments(texts, merged.swapped)), ())
        base = _base(kind, text, merged.facts.base, texts.base)
        theirs = rewritten(text, merged.facts.theirs, kind, texts.theirs, texts.base)
        comments = Comments(texts, merged.swapped, differing(text, theirs, merged.swapped))
        ways = Ways(*(_commented(kind, way, comments) for way in (text, base, theirs)))
    except (CannotWrite, NotMergeable):
        return None
    return MergedFile(with_markers(ways, style or Style()), merged.clashes)


def _read(kind: str, versions: Ways[bytes]) -> tuple[Ways[str], Ways[Facts] | None]:
    parsed = [parse(side) for side in (versions.ours, versions.base, versions.theirs)]
    texts = Ways(*(side.text for side in parsed))
    if any(side.errors for side in parsed):
        return texts, None
    return texts, Ways(*(stated(facts_of(kind, side.data)) for side in parsed))


def _base(kind: str, text: str, facts: Facts, base: str) -> str:
    """Write the base's way; where both sides took to another measure that mixes two, so the base's own text stands."""
    try:
        return rewritten(text, facts, kind, base)
    except CannotWrite:
        return base


def _commented(kind: str, text: str, comments: Comments) -> str:
    """Give the text with the comments of both sides, if that changes nothing but comments."""
    found = comments.put_into(text)
    if found == text:
        return text
    before, after = (parse(side.encode("utf-8", "surrogateescape")) for side in (text, found))
    return found if not after.errors and facts_of(kind, after.data) == facts_of(kind, before.data) else text
