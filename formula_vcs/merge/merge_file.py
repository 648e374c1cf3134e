"""Merge a file: the texts of three versions in, one text out, with what clashes."""

from __future__ import annotations

from typing import Final

from formula_vcs.diff.match import Grade
from formula_vcs.merge.comments import Comments, anchors, differing
from formula_vcs.merge.markers import Style, whole, with_markers
from formula_vcs.merge.merge_facts import MergedFacts, NotMergeable, merge_facts
from formula_vcs.merge.three_way import OURS, TAKEN_OUT, WAYS, Clash, ThreeWay
from formula_vcs.model.facts import Facts, stated
from formula_vcs.model.values import dataclass
from formula_vcs.toml.facts_to_toml import CannotWrite
from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.syntax import parse
from formula_vcs.toml.write_facts import rewritten


@dataclass(frozen=True)
class MergedFile:
    """The text of a merge, with markers where something clashes."""

    text: str
    clashes: tuple[Clash, ...]


TWO_BATCHES: Final = (
    "a batch of this id was made on both sides, and one record would stand for two batches; keep one here, and write "
    "the other under an id of its own (git show MERGE_HEAD:FILE > batches/NEW-ID.toml)"
)


def no_grade(_: str) -> None:
    """Know no grades: without ingredients nothing says which two are grades of one material."""


NO_GRADES: ThreeWay[Grade] = ThreeWay(no_grade, no_grade, no_grade)


def merge_texts(
    kind: str, versions: ThreeWay[bytes], grades: ThreeWay[Grade] = NO_GRADES, style: Style | None = None
) -> MergedFile | None:
    """Merge a file of a kind; None where a version does not parse, or the merge cannot be written.

    The text is that of ours, changed only where theirs changed the meaning or a comment.
    """
    texts, facts = _read(kind, versions)
    if facts is None:
        return None
    if kind == "batches" and not texts.base.strip() and facts.ours != facts.theirs:
        return MergedFile(whole(texts, style or Style()), (Clash("", TWO_BATCHES),))
    try:
        merged = merge_of(kind, texts, facts, grades)
        found = _written(kind, texts, merged, style or Style())
    except (CannotWrite, NotMergeable):
        return None
    # what has no place in the merge, and cannot be shown as a conflict, is left to a merge of lines rather than lost
    return found if all(words in found.text for words in Comments(texts, merged.names).written()) else None


def merge_of(kind: str, texts: ThreeWay[str], facts: ThreeWay[Facts], grades: ThreeWay[Grade]) -> MergedFacts:
    """Merge facts, and ask where a side wrote a comment about a line that the other took out.  Raises NotMergeable."""
    merged = merge_facts(kind, facts, grades)
    said = Comments(texts, merged.names).orphans()
    if not said:
        return merged
    asked = merge_facts(kind, facts, grades, said)
    fresh = set(asked.clashes) - set(merged.clashes)
    # else what was written about a line that is gone is set apart, see `Comments`
    return asked if all(clash.words.endswith(TAKEN_OUT) for clash in fresh) else merged


def _written(kind: str, texts: ThreeWay[str], merged: MergedFacts, style: Style) -> MergedFile:
    """Write a merge as a text.  Raises CannotWrite."""
    text = rewritten(texts.ours, merged.facts.ours, kind, texts.theirs, texts.base)
    if not merged.clashes:
        return MergedFile(_commented(kind, text, Comments(texts, merged.names, merged.merged), OURS), ())
    base = _base(kind, text, merged.facts.base, texts.base)
    theirs = rewritten(text, merged.facts.theirs, kind, texts.theirs, texts.base)
    there = anchors(text, merged.merged.ours) | anchors(theirs, merged.merged.theirs)
    comments = Comments(texts, merged.names, merged.merged, differing(text, theirs, merged.merged), there)
    ways = ThreeWay(
        *(_commented(kind, side, comments, way) for way, side in zip(WAYS, (text, base, theirs), strict=True))
    )
    return MergedFile(with_markers(ways, style), merged.clashes)


def _read(kind: str, versions: ThreeWay[bytes]) -> tuple[ThreeWay[str], ThreeWay[Facts] | None]:
    parsed = [parse(side) for side in (versions.ours, versions.base, versions.theirs)]
    texts = ThreeWay(*(side.text for side in parsed))
    if any(side.errors for side in parsed):
        return texts, None
    return texts, ThreeWay(*(stated(facts_of(kind, side.data)) for side in parsed))


def _base(kind: str, text: str, facts: Facts, base: str) -> str:
    """Write the base's way; where both sides took to another measure that mixes two, so the base's own text stands."""
    try:
        return rewritten(text, facts, kind, base)
    except CannotWrite:
        return base


def _commented(kind: str, text: str, comments: Comments, way: str) -> str:
    """The text with the comments of both sides, if that changes nothing but comments."""
    found = comments.put_into(text, way)
    if found == text:
        return text
    before, after = (parse(side.encode("utf-8", "surrogateescape")) for side in (text, found))
    return found if not after.errors and facts_of(kind, after.data) == facts_of(kind, before.data) else text
