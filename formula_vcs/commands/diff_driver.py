"""``git formula diff-driver``: what git diff calls for one file.  Whatever happens, it shows something and ends well.

A non-zero exit would end the whole ``git diff``, so an unreadable file, a stage that is missing or a mistake of ours
falls back to the plain lines.  git passes 7 arguments (path, old-file, old-hex, old-mode, new-file, new-hex,
new-mode), 9 for a rename, 1 for an unmerged path (git 2.39).
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

from formula_vcs.errors import OK
from formula_vcs.reports.terminal import Ink
from formula_vcs.words.escape import terminal

_NOTHING: Final = "/dev/null"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what git passes."""
    parser.add_argument("arguments", nargs="*", help="as git passes them to an external diff program")


def run(args: argparse.Namespace) -> int:
    """Show one file's change."""
    given: list[str] = args.arguments
    try:
        _show(given)
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except Exception:  # noqa: BLE001 - the plain lines say all there is; a crash would hide the files that follow
        _plainly(given)
    return OK


def _show(given: list[str]) -> None:
    if len(given) == 1:
        print(f"{terminal(given[0])}: not merged yet")
        return
    path, old_file, _, _, new_file, *_ = given
    new_path = given[7] if len(given) > 8 else path
    old, new = _content(old_file), _content(new_file)
    lines = list(_changes(path, new_path, old, new))
    ink = Ink(sys.stdout)
    name = terminal(path) if path == new_path else f"{terminal(path)} \u2192 {terminal(new_path)}"
    ink.line(ink.paint(name, "strong"))
    for line in lines:
        ink.wrapped(line, "  ", "      ")
    ink.line()


def _content(name: str) -> bytes | None:
    if name == _NOTHING:
        return None
    with open(name, "rb") as file:  # noqa: PTH123 - a temporary file of git's, or the work tree's
        return file.read()


def _changes(path: str, new_path: str, old: bytes | None, new: bytes | None) -> Iterator[str]:
    from formula_vcs.diff.exposures import told_once
    from formula_vcs.review.compare import file_changes
    from formula_vcs.workspace.snapshot import Overlay, Snapshot, WorkTree, find_workspace

    root = find_workspace(Path(new_path).absolute().parent)
    if root is None:
        raise LookupError(new_path)
    inside = [Path(name).absolute().relative_to(root).as_posix() for name in (path, new_path)]
    here = WorkTree(root)
    nothing: dict[str, bytes | None] = dict.fromkeys(inside)
    before = Snapshot(Overlay(here, nothing | {inside[0]: old}))
    after = Snapshot(Overlay(here, nothing | {inside[1]: new}), before.store)
    if old is None:
        yield "new file"
    elif new is None:
        yield "file removed"
    changes = file_changes(before, after, inside[0], inside[1])
    if changes is None:
        raise ValueError(path)
    if not changes and old is not None and new is not None:
        yield "no change in meaning"
    yield from (change.text for change in changes if not change.derived)
    yield from (f"follows: {told.text}" for told in told_once(change for change in changes if change.derived))


def _plainly(given: list[str]) -> None:
    from difflib import unified_diff

    if len(given) < 7:
        return
    names = given[0], given[7] if len(given) > 8 else given[0]
    sides = [_lines(given[1]), _lines(given[4])]
    out: Iterable[str] = unified_diff(sides[0], sides[1], f"a/{names[0]}", f"b/{names[1]}", lineterm="")
    for line in out:
        print(terminal(line))


def _lines(name: str) -> list[str]:
    try:
        content = _content(name) or b""
    except OSError as error:
        return [f"(cannot be read: {error.strerror})"]
    if b"\0" in content[:8000]:
        return [f"(binary, {len(content)} bytes)"]
    return content.decode("utf-8", "replace").splitlines()
