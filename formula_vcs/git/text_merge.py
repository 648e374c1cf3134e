"""git's own three-way merge of the text of one file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from formula_vcs.git import running

if TYPE_CHECKING:
    from collections.abc import Sequence

_ERROR = 128


class TextMerge(NamedTuple):
    """A text with or without conflict markers; ``data`` is None where git has no text merge, as of binary files."""

    data: bytes | None
    clean: bool


def merge_text(
    ours: bytes, base: bytes, theirs: bytes, *, size: int = 7, labels: Sequence[str] = ("ours", "base", "theirs")
) -> TextMerge:
    """Merge three texts as `git merge-file --diff3` does.

    :raises GitFailed: git does not run.
    """
    with running.passing_folder() as name:
        folder = Path(name)
        for file, data in zip(("ours", "base", "theirs"), (ours, base, theirs), strict=True):
            (folder / file).write_bytes(data)
        flags = [flag for label in labels for flag in ("-L", label)]
        args = ("merge-file", "-p", "-q", "--diff3", f"--marker-size={size}", *flags, "ours", "base", "theirs")
        output = running.call(args, folder, running.environment(inherit=False))
    if output.status >= _ERROR or output.status < 0:
        return TextMerge(None, clean=False)
    return TextMerge(output.out, clean=not output.status)
