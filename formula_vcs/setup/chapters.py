"""Find the chapters of the manual that ships with the package."""

from __future__ import annotations

from pathlib import Path
from typing import Final, NamedTuple

import formula_vcs

FOLDER: Final = Path(formula_vcs.__file__).parent / "manual"


class Chapter(NamedTuple):
    """A chapter: the topic that it is asked for by, its title, its text in Markdown."""

    topic: str
    title: str
    text: str


def chapters() -> dict[str, Chapter]:
    """Read all chapters, by their topics in alphabetical order; a chapter's first line is its title."""
    return {path.stem: _chapter(path) for path in sorted(FOLDER.glob("*.md"))}


def topics() -> tuple[str, ...]:
    """Name the topics, in alphabetical order."""
    return tuple(sorted(path.stem for path in FOLDER.glob("*.md")))


def _chapter(path: Path) -> Chapter:
    return chapter_in(path.stem, path.read_text("utf-8"))


def chapter_in(topic: str, text: str) -> Chapter:
    """Give a text as a chapter."""
    return Chapter(topic, text.partition("\n")[0].removeprefix("# ").strip(), text)
