"""Files that look like a workspace's own, and are not judged or not kept."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator, Mapping
from typing import Final

from formula_vcs.git.repository import Repo, ignored_paths
from formula_vcs.model.approval import FOLDER, SIGNATURE, TRUST_FILE
from formula_vcs.model.finding import Finding
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.workspace.snapshot import Refused, Snapshot, WorkTree

_MOST_READ: Final = 200  # files whose content is looked at; more has only a hostile repository
# What only a recipe, an ingredient, a batch or a proof has.
_OURS: Final = late_pattern(rb"^[ \t]*\[+[ \t]*(?:phase|step|substances|origin|handling|proof|weighed)\b", re.MULTILINE)


def look_alikes(snapshot: Snapshot, repo: Repo | None) -> Iterator[Finding]:
    """Warn of files that somebody may take for judged: another spelling of ``.toml``, hidden, another tool's name.

    A hidden file, or one of another tool's name, is one of ours only if it has tables of ours.  ``repo`` is asked for
    what git ignores of a work tree.
    """
    read = 0
    unlisted = snapshot.source.unlisted()
    yield from _unsigned(snapshot, unlisted)
    for path, why in sorted(unlisted.items()):
        name = posixpath.basename(path).casefold()
        if why.startswith("lies in a workspace of its own"):
            continue
        if path.endswith(".toml"):
            if read == _MOST_READ or not _is_ours(snapshot, path):
                continue
            read += 1
        elif not name.endswith((".toml", ".toml.txt")):
            continue
        yield _warning(path, f"'{path}' looks like a file of this workspace and is not judged: it {why}", path)
    if repo is not None and isinstance(snapshot.source, WorkTree):
        yield from _ignored(snapshot, repo, snapshot.source.folder())


def _unsigned(snapshot: Snapshot, unlisted: Mapping[str, str]) -> Iterator[Finding]:
    """Warn of decisions without a signature beside them, and of signatures without what they sign."""
    for path in snapshot.ids("approvals").values():
        if path != TRUST_FILE and f"{path}{SIGNATURE}" not in unlisted:
            words = f"this decision counts for nothing: it has no signature beside it, '{path}{SIGNATURE}'"
            yield _warning(path, words, path, "approval-unsigned")
    for path in unlisted:
        signed = path.removesuffix(SIGNATURE)
        if path.startswith(FOLDER) and path != signed and signed not in snapshot.listing:
            words = f"this signature counts for nothing: what it signs, '{signed}', is not beside it"
            yield _warning(path, words, path, "approval-unsigned")


def _ignored(snapshot: Snapshot, repo: Repo, folder: str) -> Iterator[Finding]:
    under = f"{folder}/" if folder else ""
    for entry in ignored_paths(repo, folder):
        inside = [path for path in snapshot.listing if f"{under}{path}" == entry or _lies_in(f"{under}{path}", entry)]
        if inside:
            what = f"'{inside[0]}'" + (f" and {len(inside) - 1} more in its folder" if len(inside) > 1 else "")
            words = f"git ignores {what}: judged here, and in no commit and no clone of it"
            yield _warning(inside[0], words, "ignored")


def _lies_in(path: str, entry: str) -> bool:
    return entry.endswith("/") and path.startswith(entry)


def _warning(path: str, words: str, subject: str, rule: str = "not-judged") -> Finding:
    return Finding(rule, "warn", words, path, line=1, column=1, subject=subject)


def _is_ours(snapshot: Snapshot, path: str) -> bool:
    content = snapshot.source.read(path)
    return not isinstance(content, Refused) and _OURS.search(content) is not None
