"""What reports are made of.  A builder makes blocks once; `text`, `markdown` and `html` write them.

Words are plain text wherever they come from: a ``str`` has no markup, and every writer makes it harmless for its place.
Only the types here emphasise, name or link, so that what stands in a file cannot.  ``indent`` and ``hang`` are columns
on a terminal, where a block begins and how much further in its other lines stand; pages have their own ways.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Final, Generic, Literal, TypeVar

from formula_vcs.model.finding import Finding
from formula_vcs.model.values import dataclass

if TYPE_CHECKING:
    from formula_vcs.reports.document.markup import Markup
    from formula_vcs.reports.terminal import Ink

Subject = TypeVar("Subject")
Look = Literal["", "strong", "dim", "code", "block", "warn", "note", "more", "less"]
Align = Literal["left", "right", "point"]


@dataclass(frozen=True, slots=True)
class Span:
    """Words that look different: emphasised, an id or a line of a file (``code``), or coloured as a state."""

    text: str
    look: Look = ""


@dataclass(frozen=True, slots=True)
class PageLink:
    """Words that lead to a part of the same page: ``to`` is the id of a block; a terminal has the words alone."""

    text: str
    to: str


Words = str | Span | PageLink | tuple[str | Span | PageLink, ...]


def strong(text: str) -> Span:
    """Emphasise words."""
    return Span(text, "strong")


def code(text: str) -> Span:
    """Mark an id, a path, or something to type."""
    return Span(text, "code")


def spans(words: Words) -> tuple[Span | PageLink, ...]:
    """Give words as their parts."""
    parts = words if isinstance(words, tuple) else (words,)
    return tuple(Span(part) if isinstance(part, str) else part for part in parts)


def plain(words: Words) -> str:
    """Give words without what they look like."""
    return words if isinstance(words, str) else "".join(part.text for part in spans(words))


@dataclass(frozen=True, slots=True)
class Gap:
    """An empty line on a terminal; pages set their blocks apart by themselves."""


@dataclass(frozen=True, slots=True)
class Heading:
    """The title of a report (level 1) or of a part of it; ``name`` is the id of what it is about.

    ``kind`` stands before it on a page: at a terminal the command that was typed says what kind of report it is.

    On a terminal a title with a name is one line, cut where it is too long: the name at its start or at its right.
    """

    words: Words
    level: int = 1
    kind: str = ""
    name: str = ""
    name_at: Literal["start", "right"] = "start"
    indent: int = 0
    hang: int = 0
    id: str = ""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Some sentences."""

    words: Words
    look: Look = ""
    indent: int = 0
    hang: int = 0


@dataclass(frozen=True, slots=True)
class ListEntry:
    """An entry of a list, with what stands below it; ``mark`` stands before it in every format."""

    words: Words
    below: tuple[Block, ...] = ()
    look: Look = ""
    mark: str = ""


@dataclass(frozen=True, slots=True)
class Items:
    """A list; on a terminal ``mark`` stands before each entry, and ``numbered`` ones have their number."""

    entries: tuple[ListEntry, ...]
    mark: str = ""
    numbered: bool = False
    indent: int = 2
    hang: int = 2


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table.

    ``point`` aligns numbers at their decimal points, what stands behind a number (a unit) as it is.  A cell is cut at
    ``most`` columns of a terminal (0: at none); a ``whole`` one is only filled up to them.  A ``ragged`` cell is as
    long as it is, and what follows it stands in no column; an empty one takes no room.  ``lead`` stands before a cell
    on a terminal.  A ``flexible`` column has what room the others leave.
    """

    head: str = ""
    align: Align = "left"
    most: int = 0
    least: int = 0
    whole: bool = False
    ragged: bool = False
    flexible: bool = False
    lead: str = "  "
    look: Look = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table: ``above`` it words that open a group of rows, ``below`` it lines that no cell has room for.

    The last cell stands ``indent`` columns further in, where it is folded; a page has a mark before it.
    """

    cells: tuple[Words, ...]
    below: tuple[Paragraph, ...] = ()
    above: str = ""
    look: Look = ""
    indent: int = 0


@dataclass(frozen=True, slots=True)
class TableBlock:
    """A table.  ``caption`` says what it shows, for pages; without ``heads`` a terminal has the rows only.

    ``below`` heads the lines below rows where these are a column; ``wrap`` folds the last column, others are cut where
    a line ends.  A ``wide`` table takes the whole of a terminal.  Where there is no row, ``empty`` is said.
    """

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    caption: str
    empty: str = ""
    below: str = ""
    heads: bool = False
    heads_look: Look = "strong"
    wrap: bool = False
    wide: bool = False
    indent: int = 2


@dataclass(frozen=True, slots=True)
class KeyValues:
    """Words and what stands behind each: on a terminal ``key: value``, or in two columns where ``aligned``."""

    pairs: tuple[tuple[Words, Words], ...]
    caption: str
    aligned: bool = False
    numbered: bool = False
    most: int = 44
    indent: int = 2
    hang: int = 4


@dataclass(frozen=True, slots=True)
class FindingLine:
    """A finding: where, how bad, which rule, the words; ``below`` it what brought it and the like.

    ``first`` is what its line begins with on a terminal.  ``words`` stand there in place of the finding's own.
    """

    finding: Finding
    below: tuple[Block, ...] = ()
    indent: int = 0
    first: Literal["place", "severity", "recipe"] = "place"
    words: str = ""

    @property
    def place(self) -> str:
        """Say where it stands: ``cream.toml:3:1``."""
        return f"{self.finding.path}:{self.finding.line}:{self.finding.column}"

    @property
    def message(self) -> str:
        """Say what it says."""
        return self.words or self.finding.message


@dataclass(frozen=True, slots=True)
class ChangedLine:
    """A line that changed: its sign (+, -, ~), its words, what belongs to it; ``follows`` where others brought it."""

    sign: str
    words: Words
    look: Look = ""
    follows: bool = False
    name: str = ""
    more: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ChangedLines:
    """What changed, a line each."""

    rows: tuple[ChangedLine, ...]
    indent: int = 4


@dataclass(frozen=True, slots=True)
class Fold:
    """Blocks that a page folds away under some words.

    A terminal has the blocks and not the words; where it is ``brief``, the words alone, which then say what is there.
    """

    words: Words
    blocks: tuple[Block, ...]
    open: bool = False
    brief: bool = False
    indent: int = 0
    hang: int = 0


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture for a page, and the blocks that say the same; markdown and a terminal have these alone."""

    svg: Markup
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Lines:
    """Lines that are there to be copied as they are; ``language`` is that of a file that they go into."""

    lines: tuple[str, ...]
    indent: int = 0
    language: str = ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a report comes to; ``state`` is good, note, warn or bad."""

    blocks: tuple[Block, ...]
    state: Literal["", "good", "note", "warn", "bad"] = ""


@dataclass(frozen=True, slots=True)
class OnTerminal:
    """Blocks that a terminal lays out in a way of its own, by the same words."""

    draw: Callable[[Ink], None]
    blocks: tuple[Block, ...]


Block = (
    Gap | Heading | Paragraph | Items | TableBlock | KeyValues | FindingLine | ChangedLines | Fold | Picture | Lines
    | Verdict | OnTerminal
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Document:
    """A report: ``title`` is plain text that names it among other pages, ``foot`` what only a page says at its end."""

    title: str
    blocks: tuple[Block, ...]
    foot: str = ""


@dataclass(frozen=True, slots=True)
class Report(Generic[Subject]):
    """How a report is made of its subject: the document, and the record that is its data.

    ``command`` is what is typed to get it, ``schema`` the file of its record's schema, without its ending.
    """

    command: str
    schema: str
    document: Callable[[Subject], Document]
    record: Callable[[Subject], object]


GAP: Final = Gap()


def numbered_pairs(block: KeyValues) -> Iterator[tuple[Words, Words]]:
    """Give the pairs as a page has them: with their numbers, where these count."""
    for number, (name, words) in enumerate(block.pairs, 1):
        yield ((f"{number} ", *spans(name)) if block.numbered else name), words


def paragraphs(lines: Iterable[str], indent: int = 0, hang: int = 0, look: Look = "") -> tuple[Paragraph, ...]:
    """Make a paragraph of each line."""
    return tuple(Paragraph(line, look, indent, hang) for line in lines)
