"""``git formula help``: the chapters of the manual."""

from __future__ import annotations

import argparse
import sys
from difflib import get_close_matches

from formula_vcs.errors import OK, UserError
from formula_vcs.reports.chapter_text import contents, plain
from formula_vcs.setup.chapters import Chapter, chapters


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("topic", metavar="TOPIC", nargs="*", help="the chapter to print; without one, what there is")


def run(args: argparse.Namespace) -> int:
    """Print a chapter, or list them; it needs no workspace."""
    known = chapters()
    asked = "-".join(args.topic).casefold().removesuffix(".md")
    sys.stdout.write(plain(_found(asked, known).text) if asked else contents(known.values()))
    return OK


def _found(asked: str, known: dict[str, Chapter]) -> Chapter:
    """Find a chapter by its topic, by its title, or by a beginning of one topic alone."""
    titled = {chapter.title.casefold().replace(" ", "-"): chapter for chapter in known.values()}
    begun = [chapter for topic, chapter in known.items() if topic.startswith(asked)]
    found = known.get(asked) or titled.get(asked) or (begun[0] if len(begun) == 1 else None)
    if found is None:
        near = [chapter.topic for chapter in begun] or get_close_matches(asked[:80], known, n=3, cutoff=0.5)
        hint = f"; did you mean {' or '.join(repr(name) for name in near)}?" if near else ""
        raise UserError(f"the manual has no chapter '{asked[:80]}'{hint or '; git formula help lists them'}")
    return found
