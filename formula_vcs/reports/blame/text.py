"""Blame for a terminal: a line of the recipe behind its commit, and the commits with their reasons below."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import groupby
from typing import Final, TextIO

from formula_vcs.git.commit_log import Commit
from formula_vcs.history.blame import NOT_YET
from formula_vcs.reports import commit_words
from formula_vcs.reports.blame.sheet import AMOUNT, BlameLine, BlamePart, BlameSheet
from formula_vcs.reports.short_words import brief
from formula_vcs.reports.terminal import Ink, left
from formula_vcs.words.numbers import shown, signed

_LEAD: Final = 26  # two blanks, the id, the day


def write(sheet: BlameSheet, *, out: TextIO) -> None:
    """Write all lines, then the commits."""
    ink = Ink(out)
    title = sheet.recipe.title
    named = f"{title} ({sheet.recipe.id})" if title != sheet.recipe.id else title
    ink.wrapped(f"{named}, {sheet.revision}", style="strong")
    for group, lines in groupby(sheet.lines, key=lambda line: line.group):
        ink.line()
        ink.wrapped(group, style="strong")
        for line in lines:
            for commit, text, deep in said(line):
                ink.wrapped(text, lead(commit) + "  " * deep, " " * _LEAD + "  " * deep)
    ink.line()
    ink.wrapped("Commits", style="strong")
    for commit in sheet.commits:
        _commit(ink, commit)
    if sheet.cut:
        ink.line()
        ink.wrapped(f"What is owed to the oldest commit here is as old {commit_words.SHALLOW}.")


def lead(commit: Commit) -> str:
    """Give the id and the day that stand before a line."""
    return f"  {left(commit_words.name(commit), 10)}  {left(commit.day, 10)}  "


def said(line: BlameLine) -> Iterator[tuple[Commit, str, bool]]:
    """Give what stands behind which commit: the line itself, then, deeper, the parts of it that are owed to others."""
    if line.kind == "step":
        yield line.first.version.commit, line.name, False
        others = [part for part in line.parts if part.version is not line.first.version]
    elif line.balance is not None:
        yield line.balance.version.commit, _balance(line), False
        for mover in line.balance.movers:
            points = "" if mover.points is None else f"{signed(mover.points)} points "
            yield mover.version.commit, f"{points}by {brief(mover.change)}", True
        others = [part for part in line.parts if part.old is not None and part.what != AMOUNT]
    else:
        yield line.last.version.commit, headline(line), False
        others = [part for part in line.parts if part.version is not line.last.version and _worth(line, part)]
    for part in others:
        yield part.version.commit, part_words(part), True


def _balance(line: BlameLine) -> str:
    if line.balance is None:
        return line.name
    was = "" if line.balance.old is None else f" (was {_share(line.balance.old)})"
    return f"{line.name}, the balance: {_share(line.balance.new)}{was}"


def _share(value: Fraction) -> str:
    return f"{shown(value, 2, 4)} %"


def _worth(line: BlameLine, part: BlamePart) -> bool:
    """Say whether an older part of a line is worth a line of its own: not that a charge was always where it is."""
    return line.kind != "charge" or part.what not in ("phase", "grade") or part.old is not None


def headline(line: BlameLine) -> str:
    """Say a line with what its last commit did to it."""
    whole = f"{line.name} {line.value}".rstrip() if line.kind == "charge" else _named(line)
    did = [did_words(part, line) for part in line.parts if part.version is line.last.version]
    words = ", ".join(word for word in did if word)
    return f"{whole} ({words})" if words else whole


def _named(line: BlameLine) -> str:
    return f"{line.name} {line.value}".rstrip()


def did_words(part: BlamePart, line: BlameLine) -> str:
    """Say what a commit did to a part of a line."""
    if part.old is None:
        return "new" if part.version.against and part.what in (AMOUNT, line.parts[0].what) else ""
    if part.what == "phase":
        return f"moved from phase {part.old}"
    if part.what == "grade":
        return f"another grade, was {part.old}"
    return f"was {part.old}" if part.what == AMOUNT or len(line.parts) == 1 else f"{part.what} was {part.old}"


def part_words(part: BlamePart) -> str:
    """Say a part of a line by itself: what it is, and what it was."""
    was = "" if part.old is None else f" (was {part.old})"
    new = " (new)" if part.old is None and part.version.against else ""
    return f"{part.what} {part.value or ''}".rstrip() + was + new


def _commit(ink: Ink, commit: Commit) -> None:
    if commit.oid == NOT_YET:
        ink.wrapped(commit_words.UNCOMMITTED, "  ")
        return
    ink.wrapped(commit_words.who(commit), lead(commit), " " * _LEAD)
    for line in commit_words.told(commit):
        ink.wrapped(line, " " * _LEAD)
