"""Who made a change: the addresses and the keys that the commits which brought it carry."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Final, NamedTuple

from formula_vcs.approvals.rests import content, rests_on
from formula_vcs.git import repository, ssh_keys
from formula_vcs.history.version_of_recipe import Version
from formula_vcs.model.approval import Signatory
from formula_vcs.words.late_pattern import late_pattern

_AUTHOR: Final = late_pattern(rb"^author [^\n]*?<([^<>\n]*)> -?\d+", re.MULTILINE)
_WITH: Final = late_pattern(rb"^co-authored-by:[^\n]*<([^<>\n]*)>", re.MULTILINE | re.IGNORECASE)
_SIGNED: Final = late_pattern(rb"^gpgsig(?:-sha256)? (.*(?:\n .*)*)", re.MULTILINE)


class CommitMakers(NamedTuple):
    """Who a commit says made it: addresses as they are written in it (no .mailmap), and the key that signed it."""

    emails: frozenset[str]
    keys: frozenset[str]

    def are(self, person: Signatory) -> bool:
        """Say whether somebody is one of them."""
        return not self.emails.isdisjoint(person.emails) or not self.keys.isdisjoint(person.keys)


def makers_of(objects: repository.Objects, commit: str) -> CommitMakers:
    """Read who made a commit: its author, who is named beside the author, and the ssh key that signed it."""
    found = objects.blobs.object(commit)
    head, _, body = (found.data if found is not None else b"").partition(b"\n\n")
    authors = [*_AUTHOR.findall(head)[:1], *_WITH.findall(body)]
    emails = frozenset(email.decode("utf-8", "replace").strip().casefold() for email in authors)
    signatures = (ssh_keys.signature_in(part[1].replace(b"\n ", b"\n")) for part in _SIGNED.finditer(head))
    return CommitMakers(emails, frozenset(one.key for one in signatures if one is not None))


def made_in(versions: Collection[Version], wanted: str, stops: Collection[str]) -> list[str] | None:
    """Give the ids of the commits that made a content out of what was approved before; None where it is not there.

    ``wanted`` is a content hash, ``stops`` are those of versions that were approved before.
    """
    last = next((one for one in reversed(tuple(versions)) if _content(one) == wanted), None)
    if last is None:
        return None
    found: list[str] = []
    waiting = [last]
    seen: set[int] = set()
    while waiting:
        version = waiting.pop()
        if id(version) in seen or (_content(version) in stops and version is not last):
            continue
        seen.add(id(version))
        waiting += version.parents
        if all(_meaning(version) != _meaning(parent) for parent in version.parents):
            found.append(version.commit.oid)
    return found


def _content(version: Version) -> str:
    return "" if version.formula is None or not version.there else content(version.formula)


def _meaning(version: Version) -> object:
    """Give what an approval is about: the same before and after, nobody has made anything of it."""
    if version.formula is None or not version.there:
        return None
    return content(version.formula), tuple(rests_on(version.formula, law=False).items())
