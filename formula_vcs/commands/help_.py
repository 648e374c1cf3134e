"""``git formula help``: the chapters of the manual."""

from __future__ import annotations

import argparse
import shlex
import sys
from difflib import get_close_matches
from pathlib import Path

from formula_vcs import __version__
from formula_vcs.errors import OK, UserError
from formula_vcs.reports.manual.text import contents, plain
from formula_vcs.setup.shipped import FOLDER, Chapter, chapters, topics
from formula_vcs.toml.atomic import write_output


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("topic", metavar="TOPIC", nargs="*", help="the chapter to print; without one, what there is")
    whole = parser.add_mutually_exclusive_group()
    whole.add_argument("--html", metavar="FILE", help="write the whole manual as one page; it needs no network")
    whole.add_argument("--man", metavar="DIR", help="write pages for man into a folder for MANPATH")
    parser.set_defaults(offered={"": topics()})


def run(args: argparse.Namespace) -> int:
    """Print a chapter, or list them; it needs no workspace."""
    known = chapters()
    if args.html is not None or args.man is not None:
        if args.topic:
            raise UserError("--html and --man write the whole manual; leave the topic out")
        return _write_page(args.html, known) if args.html is not None else _write_pages(Path(args.man), known)
    asked = "-".join(args.topic).casefold().removesuffix(".md")
    sys.stdout.write(plain(_found(asked, known).text) if asked else contents(known.values()))
    return OK


def _write_page(file: str, known: dict[str, Chapter]) -> int:
    from formula_vcs.reports.manual import html

    write_output(file, html.manual(known, __version__).encode())
    return OK


def _write_pages(folder: Path, known: dict[str, Chapter]) -> int:
    from formula_vcs.reports.manual import man

    pages = {f"man7/git-formula-{topic}.7": man.page(chapter, __version__) for topic, chapter in known.items()}
    pages["man1/git-formula.1"] = (FOLDER / "git-formula.1").read_text("utf-8")
    for name, text in pages.items():
        try:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise UserError(f"'{folder}' cannot hold the pages: {error.strerror}") from None
        write_output(str(folder / name), text.encode())
    print(f"{len(pages)} pages; MANPATH={shlex.quote(str(folder))}: man git-formula-law")
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
