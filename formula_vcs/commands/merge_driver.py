"""``git formula merge-driver``: what git calls to merge one file.  Its result goes into the file of ours, nothing else.

git's configured command (repo/merge-driver.sh) has made a text merge before and passes it with ``--text``; then status
2 says that it is to stand.  Called without, the text merge is made here where it is needed.  Nothing is printed on
stdout, which would end up in the output of `git merge-tree`.
"""

from __future__ import annotations

import argparse
import datetime
import os
import sys
from pathlib import Path

from formula_vcs.errors import BLOCKED, OK, WRONG, UserError
from formula_vcs.model.values import dataclass, field

_VIRTUAL = "Temporary merge branch"
_MOST_CLASHES = 5


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what git passes."""
    parser.add_argument(
        "words", nargs="*", metavar="WORD", help="%%O %%A %%B %%L %%P [%%S %%X %%Y], as git passes them"
    )
    parser.add_argument("--text", metavar="FILE", help="the text merge, made already")
    parser.add_argument("--text-status", type=int, default=1, metavar="N", help="0 where the text merge is clean")
    parser.set_defaults(after=(), dashes=False)


@dataclass(frozen=True)
class Given:
    """What git gave: three files, the size of markers, the path, and what to call the three versions."""

    base: Path
    ours: Path
    theirs: Path
    size: int
    path: str
    labels: tuple[str, str, str] = field(default=("ours", "base", "theirs"))


def run(args: argparse.Namespace) -> int:
    """Merge one file; 0 merged, 1 in conflict, 2 where the text merge that was passed stands."""
    given = _given([*args.words, *args.after])
    text = None if args.text is None else (Path(args.text), args.text_status == 0)
    if os.environ.get("GIT_FORMULA_MERGE") == "off":
        return _by_text(given, text)
    try:
        found = _merged(given, text)
    except Exception as error:  # noqa: BLE001 - whatever is wrong with us, the text merge is there
        _say(given, f"merged line by line: {type(error).__name__}: {error}")
        found = None
    if found is None:
        return _by_text(given, text)
    _write(given.ours, found[0])
    return found[1]


def _given(words: list[str]) -> Given:
    if len(words) not in (5, 8):
        raise UserError("git calls this with %O %A %B %L %P, and %S %X %Y where it knows them; see 'git formula init'")
    base, ours, theirs, size, path, *labels = words
    if not size.isdigit():
        raise UserError(f"'{size}' is no marker size")
    # git before 2.44 passes the letters as they are written
    known = [label if label and not label.startswith("%") else "" for label in labels] or ["", "", ""]
    names = (known[1] or "ours", known[0] or "base", known[2] or "theirs")
    return Given(Path(base), Path(ours), Path(theirs), int(size), path, names)


def _by_text(given: Given, text: tuple[Path, bool] | None) -> int:
    """Leave the text merge that was passed, or make one."""
    if text is not None:
        return WRONG
    from formula_vcs.git.would_merge import merge_text

    found = merge_text(*(_read(file) for file in (given.ours, given.base, given.theirs)),
                       size=given.size, labels=given.labels)  # fmt: skip
    if found.data is not None:
        _write(given.ours, found.data)
    return OK if found.clean else BLOCKED


def _merged(given: Given, text: tuple[Path, bool] | None) -> tuple[bytes, int] | None:
    """Give the merged file and the status; None where the text merge is all there is."""
    from formula_vcs.merge.driven import Workbench, merge

    versions = tuple(_read(file) for file in (given.ours, given.base, given.theirs))
    bench = Workbench.around(given.path, datetime.datetime.now(tz=datetime.UTC).astimezone().date())
    if bench is None:
        return None
    inner = _is_virtual(given)
    passed = None if text is None or not text[1] else _read(text[0])
    outcome = merge(bench, versions, given.labels, given.size, passed, judged=not inner)
    if outcome is None:
        return None
    if not inner:
        for words in outcome.words[:_MOST_CLASHES]:
            _say(given, words)
        if len(outcome.words) > _MOST_CLASHES:
            _say(given, f"and {len(outcome.words) - _MOST_CLASHES} more; the file marks them all")
    return outcome.data, OK if outcome.clean else BLOCKED


def _is_virtual(given: Given) -> bool:
    """Say whether git merges two bases of a criss-cross history: nobody will see that file."""
    if any(label.startswith(_VIRTUAL) for label in given.labels):
        return True
    if given.size <= 7:
        return False
    from formula_vcs.git import repository
    from formula_vcs.setup.attributes import attribute

    return attribute(repository.open_repo(Path.cwd()), given.path, "conflict-marker-size") == "unspecified"


def _read(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise UserError(f"cannot read {file}: {error.strerror}") from error


def _write(file: Path, data: bytes) -> None:
    from formula_vcs.toml.atomic import write_whole

    write_whole(file, data)


def _say(given: Given, words: str) -> None:
    from formula_vcs.git.running import shown

    print(f"git formula: {shown(given.path)}: {shown(words)}", file=sys.stderr)
