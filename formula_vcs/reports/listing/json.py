"""What is in a workspace, as JSON by the schema list.json."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TextIO

from formula_vcs.reports.check.json import dump
from formula_vcs.review.listed_files import ListedFile


def write(found: Sequence[ListedFile], *, out: TextIO) -> None:
    """Write all files."""
    files = [
        {"kind": one.kind, "id": one.id, "title": one.title, "file": one.file, "columns": dict(one.columns)}
        for one in found
    ]
    dump({"files": files}, out)
