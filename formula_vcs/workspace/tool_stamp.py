"""What judges here: this package as it is installed, the Python it runs on, and the other packages around it."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from typing import Final

_PACKAGE: Final = Path(__file__).parents[1]
_INSTALLED: Final = (".dist-info", ".egg-info")


def tool_stamp() -> str:
    """Give 32 hex digits that differ wherever another tool would judge.

    They name each file of the package by size, inode and the times of its last change, so an edited checkout is
    another tool too; and each installed distribution by its name and version.

    :raises OSError: the package cannot be looked at, as in an archive.
    """
    found = sha256()
    for part in (sys.version, sys.implementation.name, str(sys.flags), *_files(_PACKAGE), *_distributions()):
        data = part.encode("utf-8", "surrogateescape")
        found.update(b"%d:%b" % (len(data), data))
    return found.hexdigest()[:32]


def _files(folder: Path) -> Iterator[str]:
    waiting = [str(folder)]
    while waiting:
        with os.scandir(waiting.pop()) as inside:
            for entry in sorted(inside, key=lambda one: one.name):
                if entry.is_dir():
                    if entry.name != "__pycache__":
                        waiting.append(entry.path)
                    continue
                stat = entry.stat()
                yield f"{entry.path} {stat.st_size} {stat.st_ino} {stat.st_mtime_ns} {stat.st_ctime_ns}"


def _distributions() -> Iterator[str]:
    for place in sys.path:
        try:
            names = [path.name for path in Path(place or ".").iterdir()]
        except OSError:  # an archive, or a folder that is not there
            yield place
            continue
        yield from sorted(f"{place} {name}" for name in names if name.endswith(_INSTALLED))
