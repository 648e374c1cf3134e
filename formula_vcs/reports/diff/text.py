"""What changed and what it does, for a terminal.  The review puts its other parts behind these."""

from __future__ import annotations

from typing import Final, TextIO

from formula_vcs.diff.change import Change
from formula_vcs.reports import label_words, review_document, review_extras
from formula_vcs.reports.terminal import WIDTH, Ink, at_point, columns, cut, left, right
from formula_vcs.review.compare import Comparison, Review
from formula_vcs.words.escape import terminal
from formula_vcs.words.imitation import titled

_NAME: Final = 38  # columns of a name beside its numbers; a longer one gets a line of its own
_FIGURE: Final = 30


def write(comparison: Comparison, *, title: str, out: TextIO) -> None:
    """Write parts 1 and 2, and one line where something new blocks."""
    ink = Ink(out)
    opening(ink, title)
    for review in review_document.alike(comparison)[0]:
        heading(ink, review)
        changed(ink, review)
        does(ink, review)
    closing(ink, comparison)
    news = review_document.blocking_news(comparison)
    if news:
        verb = "blocks" if news == 1 else "block"
        ink.line(
            f"{ink.paint(review_document.counted(news, 'new finding'), 'block')} {verb}: 'git formula review' says why"
        )


def opening(ink: Ink, title: str) -> None:
    """Say what is compared."""
    ink.wrapped(title, style="dim")
    ink.line()


def heading(ink: Ink, review: Review, verdict: str = "") -> None:
    """Name a recipe, and say what became of it as a whole."""
    name = terminal(review.recipe)
    ink.line(f"{ink.paint(name, 'strong')}  {cut(terminal(titled(review.title)), WIDTH - columns(name) - 2)}")
    if verdict:
        ink.wrapped(verdict, "  ", style="block" if verdict.startswith("blocked") else "")
    ink.line()


def part(ink: Ink, title: str) -> None:
    """Open one of the four parts."""
    ink.line(f"  {ink.paint(title, 'strong')}")


def sentence(ink: Ink, title: str, words: str) -> None:
    """Write one of the four parts that is no more than a sentence."""
    ink.wrapped(words, f"  {ink.paint(title, 'strong')}: ", " " * 4)
    ink.line()


def changed(ink: Ink, review: Review) -> None:
    """Write part 1."""
    part(ink, "What changed")
    words = review_document.whole(review)
    if words:
        ink.wrapped(words, "    ")
    else:
        _rows(ink, review_document.rows(review.changes, review.swaps))
    ink.line()


def beside(ink: Ink, changes: tuple[Change, ...]) -> None:
    """Write the changes of files that stand under no recipe here."""
    if changes:
        ink.line(ink.paint("Beside the recipes", "strong"))
        for row in review_document.beside(changes):
            ink.wrapped(row.text, f"  {row.sign} ")
        ink.line()


def closing(ink: Ink, comparison: Comparison) -> None:
    """Write what stands beside the recipes, and count what is not listed."""
    beside(ink, comparison.beside)
    for line in review_document.unchanged(comparison):
        ink.wrapped(line)


def _rows(ink: Ink, rows: list[review_document.ChangeRow]) -> None:
    numbers = [row for row in rows if row.name and not row.follows and columns(terminal(row.name)) <= _NAME]
    width = max((columns(terminal(row.name)) for row in numbers), default=0)
    olds, news = at_point([row.old for row in numbers]), at_point([row.new for row in numbers])
    bys = at_point([row.by.partition(" ")[0] for row in numbers])
    points = max((columns(row.by) - columns(row.by.partition(" ")[0]) for row in numbers), default=0)
    units = max((columns(row.unit) for row in numbers), default=0)
    relatives = at_point([row.relative.removesuffix(" %") for row in numbers])
    aligned = {id(row): i for i, row in enumerate(numbers)}
    for row in rows:
        i = aligned.get(id(row))
        if i is None:
            lead = "    follows: " if row.follows else f"    {ink.paint(row.sign, row.style)} "
            ink.wrapped(row.text, lead, " " * 8 if row.follows else " " * 6)
            for more in row.more:
                ink.wrapped(more, "        ", " " * 10)
            continue
        name = left(terminal(row.name), width)
        by = left(f"{bys[i]} {row.by.partition(' ')[2]}", columns(bys[i]) + points)
        relative = f"  {relatives[i].rstrip()} %" if row.relative else ""
        unit = left(row.unit, units)
        ink.line(
            f"    {ink.paint(row.sign, row.style)} {name}  {olds[i]} {review_document.ARROW} {news[i]} {unit}  "
            f"{by}{relative}".rstrip()
        )


def does(ink: Ink, review: Review) -> None:
    """Write part 2; nothing where a recipe came or went as a whole."""
    if review.status != "changed":
        return
    moves = review_document.moves(review)
    substances = review_document.substances(review)
    if not (moves.moved or moves.less or moves.missing or substances or review.label or review.lists):
        sentence(ink, "What it does", "no figure moves")
        return
    part(ink, "What it does")
    if not moves.moved and not moves.less:
        ink.line("    no figure moves")
    _figures(ink, moves.moved)
    if moves.less:
        ink.wrapped(review_document.counted_away(moves.less), "    ")
    _substances(ink, substances)
    if review.label:
        ink.line(f"    {label_words.title(review)}")
    for words, why in label_words.lines(review):
        ink.wrapped(words, "      ")
        for reason in why:
            ink.wrapped(reason, "        ", " " * 10)
    for name, words in review_extras.lists(review):
        ink.line(f"    {name}")
        ink.wrapped(words, "      ")
    for fact in moves.missing:
        ink.wrapped(fact, "    missing ", " " * 8)
    ink.line()


def _figures(ink: Ink, moved: tuple[review_document.MovedFigure, ...]) -> None:
    nows = [f"{item.after} {terminal(item.unit)}".rstrip() for item in moved]
    name, before, after, by = (
        max(map(columns, texts), default=0)
        for texts in (
            [item.name for item in moved],
            [item.before for item in moved],
            nows,
            [item.difference for item in moved if item.by],
        )
    )
    for item, now in zip(moved, nows, strict=True):
        was = f"{right(terminal(item.before), before)} {review_document.ARROW}"
        lead = f"    {left(item.name, name)}  {was} {left(now, after)}  "
        style = {1: "more", -1: "less"}.get(item.sign, "")
        if not item.by:
            ink.line(f"{lead}{ink.paint(item.difference, style)}".rstrip())
        elif columns(lead) + by + columns(terminal(item.by)) + 5 <= WIDTH:
            ink.line(f"{lead}{left(ink.paint(item.difference, style), by)}  by {terminal(item.by)}")
        else:
            ink.line(f"{lead}{ink.paint(item.difference, style)}")
            ink.wrapped(f"by {item.by}", "      ")
        _parts(ink, item)


def _substances(ink: Ink, found: list[review_document.Substance]) -> None:
    if not found:
        return
    ink.line(f"    {review_document.SUBSTANCES}")
    names = [cut(terminal(item.name), _FIGURE) for item in found]
    name = max(map(columns, names))
    befores, afters = at_point([item.before for item in found]), at_point([item.after for item in found])
    bys = at_point([item.relative or "new" for item in found])
    for item, words, before, after, by in zip(found, names, befores, afters, bys, strict=True):
        numbers = f"{before} {review_document.ARROW} {after} %  {by.rstrip()}"
        ink.wrapped(item.why, f"      {left(words, name)}  {numbers}  ", " " * 8)


def _parts(ink: Ink, item: review_document.MovedFigure) -> None:
    for share, value in zip(item.parts, at_point([share.value for share in item.parts]), strict=True):
        ink.wrapped(share.text, f"      {right(value, 9)}  ")
    for note in item.notes:
        ink.wrapped(note, "      ")
