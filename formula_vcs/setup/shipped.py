"""Find what ships with the package: hooks, recipes, chapters of the manual."""

from __future__ import annotations

from pathlib import Path
from typing import Final, NamedTuple

import formula_vcs

# --- Find the folders that stand at the top of our repository, and inside the package when it is installed


def shipped(name: str) -> Path:
    """Give the folder ``hooks`` or ``recipes``: of the installed package, else of our checkout."""
    package = Path(formula_vcs.__file__).parent
    inside = package / "_shipped" / name
    return inside if inside.is_dir() else package.parent / name


def texts(name: str) -> dict[str, str]:
    """Read all files of a shipped folder, by their path in it; hidden ones are no part of it."""
    top = shipped(name)
    found = {path.relative_to(top): path for path in sorted(top.rglob("*")) if path.is_file()}
    return {
        inner.as_posix(): path.read_bytes().decode("utf-8")
        for inner, path in found.items()
        if not any(part.startswith(".") for part in inner.parts)
    }


# --- Find the chapters of the manual that ships with the package


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
