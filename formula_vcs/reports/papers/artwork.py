"""The ingredient list for artwork: as it is to be printed, by market, and what changed since the last artwork."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher
from typing import Final, NamedTuple

from formula_vcs.law.compliance import markets
from formula_vcs.reports.document.blocks import (
    Block,
    Column,
    Heading,
    Items,
    ListEntry,
    Paragraph,
    Row,
    TableBlock,
    Verdict,
)
from formula_vcs.reports.papers.paper import NOT_ON_FILE, Paper
from formula_vcs.reports.sheets import MARKETS, Label, label_of
from formula_vcs.words.numbers import shown

TITLE: Final = "Ingredient list for artwork"
# Of which language the list is; what a market asks of a label besides is not looked at here.
_LANGUAGE: Final = {
    "EU": (
        "INCI names of the glossary, not translated (Regulation (EC) No 1223/2009, Articles 19(1)(g) and 33). Article "
        "19(5) leaves the language of the other particulars to the Member State."
    ),
    "US": (
        "English names (21 CFR 701.3; 701.2(b) asks for English, and for every other language that the label uses: "
        "from memory)."
    ),
}
_PARTS: Final = {
    "active": "active ingredient", "ordered": "by weight, falling", "free": "below the line at 1 %, any order",
    "colorant": "colorant, any order, last",
}  # fmt: skip


class LastArtwork(NamedTuple):
    """The last artwork for a market: which it is, and the list of its version, None where that is not to be had."""

    what: str
    label: Label | None


def blocks(paper: Paper, last: dict[str, LastArtwork]) -> Iterator[Block]:
    """Give a part a market; ``last`` has the artwork on file by market."""
    names = markets(paper.formula)
    known = [market for market in MARKETS if market in names] if names else list(MARKETS[:1])
    for market in known:
        label = label_of(paper.sums, market, paper.day)
        yield Heading(f"Market {market}", 2)
        yield Paragraph(_LANGUAGE[market])
        yield Verdict((Paragraph(label.printed or "nothing to list"),))
        for fact in label.missing:
            yield Paragraph(f"{NOT_ON_FILE}: {fact}", "warn")
        yield TableBlock(
            (Column("no.", "right"), Column("name"), Column("% w/w", "point"), Column("place")),
            tuple(
                Row((str(number), line.inci, shown(line.pct, 4, 6), _PARTS[line.part]))
                for number, line in enumerate(label.lines, 1)
            ),
            "The names in their order; shares are not printed on a pack", heads=True,
        )  # fmt: skip
        yield from _since(label, last.get(market) or last.get(""))
    for market in names:
        if market not in MARKETS:
            yield Heading(f"Market {market}", 2)
            yield Paragraph(
                f"How a list is written there: {NOT_ON_FILE} in this tool. Ask the responsible person.", "warn"
            )


def _since(label: Label, last: LastArtwork | None) -> Iterator[Block]:
    if last is None:
        yield Paragraph(f"Artwork before this: {NOT_ON_FILE}.")
        return
    spot = last.what
    if last.label is None:
        yield Paragraph(
            f"The last artwork ({spot}) is of a version that is not to be had: what changed is not known.", "warn"
        )
        return
    found = list(moves([line.inci for line in last.label.lines], [line.inci for line in label.lines]))
    if not found:
        yield Paragraph(f"Nothing changed since the last artwork ({spot}).")
        return
    yield Paragraph(f"Changed since the last artwork ({spot}); the artwork has to be made anew:", "warn")
    yield Items(tuple(map(ListEntry, found)), "- ")


def moves(before: Sequence[str], after: Sequence[str]) -> Iterator[str]:
    """Say what came, went and moved between two lists of names, each once."""
    was, now = {name: n for n, name in enumerate(before, 1)}, {name: n for n, name in enumerate(after, 1)}
    yield from (f"{name} comes in, as number {place}" for name, place in now.items() if name not in was)
    yield from (f"{name} goes, was number {place}" for name, place in was.items() if name not in now)
    old, new = [name for name in before if name in now], [name for name in after if name in was]
    matcher = SequenceMatcher(None, old, new, autojunk=False)
    stay = {name for block in matcher.get_matching_blocks() for name in old[block.a : block.a + block.size]}
    yield from (f"{name} moves from number {was[name]} to {now[name]}" for name in new if name not in stay)
