"""The comment line that a stopped merge leaves at the top of a file, and how it is found again."""

from __future__ import annotations

import re
from typing import Final

from formula_vcs.words.late_pattern import late_pattern

STOPPED: Final = "# git-formula stopped this merge: "
_LINE: Final = late_pattern(rb"^" + re.escape(STOPPED.encode()) + rb"[^\r\n]*", re.MULTILINE)


def with_stop(text: str, words: str) -> str:
    """Give the text with the line at its top; ``words`` are one line without control characters."""
    newline = "\r\n" if "\r\n" in text else "\n"
    return f"{STOPPED}{words}{newline}{text}"


def stop_in(data: bytes) -> tuple[int, str] | None:
    """Give the number of the line (from 1) and what it says; None where there is none."""
    if STOPPED.encode() not in data:
        return None
    found = _LINE.search(data)
    if found is None:
        return None
    said = found.group()[len(STOPPED.encode()) :].decode("utf-8", "replace")
    return data.count(b"\n", 0, found.start()) + 1, said
