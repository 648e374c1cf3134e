"""Find the folders that stand at the top of our repository, and inside the package when it is installed."""

from __future__ import annotations

from pathlib import Path

import formula_vcs


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
