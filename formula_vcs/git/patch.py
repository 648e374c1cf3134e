"""Changed files as a patch in git's own form: `git apply` takes it, also with `--3way`, as it names whole blobs.

The form: https://git-scm.com/docs/diff-format ("Generating patch text with -p").
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from difflib import unified_diff
from typing import Final

from formula_vcs.git.repository import blob_id
from formula_vcs.model.values import dataclass
from formula_vcs.words.late_pattern import late_pattern

_NONE: Final = "0" * 40
_NO_NEWLINE: Final = b"\\ No newline at end of file\n"
_TO_QUOTE: Final = late_pattern(rb'[\x00-\x1f"\\\x7f-\xff]')
_LETTERS: Final = {b'"': b'\\"', b"\\": b"\\\\", b"\t": b"\\t", b"\n": b"\\n", b"\r": b"\\r"}


@dataclass(frozen=True)
class FileChange:
    """A file of the repository before and after: its bytes, None where it is not there; ``mode`` as git has it."""

    path: str
    old: bytes | None
    new: bytes | None
    mode: str = "100644"


def patch(changes: list[FileChange]) -> bytes:
    """Write a patch of all files that differ, in the order of their paths."""
    found = sorted((change for change in changes if change.old != change.new), key=lambda change: change.path)
    return b"".join(b"".join(_file(change)) for change in found)


def _file(change: FileChange) -> Iterator[bytes]:
    old, new = (_quoted(side + change.path) for side in ("a/", "b/"))
    yield b"diff --git " + old + b" " + new + b"\n"
    if change.old is None:
        yield f"new file mode {change.mode}\n".encode()
    elif change.new is None:
        yield f"deleted file mode {change.mode}\n".encode()
    ids = [_NONE if content is None else blob_id(content) for content in (change.old, change.new)]
    yield f"index {ids[0]}..{ids[1]}\n".encode()
    before, after = (_lines(content or b"") for content in (change.old, change.new))
    if before or after:
        yield b"--- " + (b"/dev/null" if change.old is None else _named(old)) + b"\n"
        yield b"+++ " + (b"/dev/null" if change.new is None else _named(new)) + b"\n"
        yield from _hunks(before, after)


def _lines(content: bytes) -> list[str]:
    """Cut behind newlines alone, as git does; latin-1 gives every byte back as it was."""
    return re.findall(r"[^\n]*\n|[^\n]+", content.decode("latin-1"))


def _hunks(before: list[str], after: list[str]) -> Iterator[bytes]:
    for line in list(unified_diff(before, after, n=3))[2:]:
        yield line.encode("latin-1")
        if not line.endswith("\n"):
            yield b"\n" + _NO_NEWLINE


def _quoted(path: str) -> bytes:
    """Quote a path as git does where it has bytes that are not plain."""
    raw = path.encode("utf-8", "surrogateescape")
    if _TO_QUOTE.search(raw) is None:
        return raw
    return b'"' + _TO_QUOTE.sub(lambda found: _LETTERS.get(found[0], b"\\%03o" % found[0][0]), raw) + b'"'


def _named(path: bytes) -> bytes:
    """Give the name as it stands in a header line: a tab ends one that holds a blank."""
    return path + b"\t" if b" " in path and not path.startswith(b'"') else path
