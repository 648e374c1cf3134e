"""Read what names a version of a recipe: a commit's id and a content hash."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.model.content_hash import DIGITS
from formula_vcs.model.facts import Path
from formula_vcs.toml import takers
from formula_vcs.toml.takers import FactReader, shown
from formula_vcs.words.late_pattern import late_pattern

_COMMIT: Final = late_pattern(r"[0-9a-f]{7,64}")
_HASH: Final = late_pattern(rf"[0-9a-f]{{{DIGITS}}}")


def commit(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a commit's id, in full or at least seven digits of it; a branch's name would mean another one tomorrow."""
    if not isinstance(raw, str):
        takers.wrong_kind(sheet, path, raw, "a commit's id in quotes")
    elif not _COMMIT.fullmatch(raw):
        words = f"'{path[-1]}': '{shown(raw)}' is no commit id; seven or more digits of 0-9 and a-f make one"
        sheet.refuse(path, raw, words)
    else:
        sheet.put(path, raw)


def content_hash(sheet: FactReader, path: Path, raw: Any) -> None:
    """Take a content hash: 64 hexadecimal digits."""
    if not isinstance(raw, str):
        takers.wrong_kind(sheet, path, raw, "a content hash in quotes")
    elif not _HASH.fullmatch(raw):
        words = f"'{path[-1]}': '{shown(raw)}' is no content hash; it has {DIGITS} digits of 0-9 and a-f"
        sheet.refuse(path, raw, words)
    else:
        sheet.put(path, raw)
