"""Evidence: what some version of a recipe passed, read off the facts of an evidence file."""

from __future__ import annotations

import datetime
from decimal import Decimal
from typing import Any, Final

from formula_vcs.model.facts import Path, readable
from formula_vcs.model.quantity import Quantity
from formula_vcs.model.values import dataclass
from formula_vcs.model.workspace import Record

KINDS: Final = (
    "stability", "challenge-test", "safety-assessment", "certificate", "artwork", "notification",
    "process-validation", "pack-compatibility", "spf-test", "efficacy", "patch-test", "use-test",
    "fluoride-recovery", "rda",
)  # fmt: skip  # the house names more in its own table of duties (`law/duty_table.py`)
PROOF: Final = "proof"


@dataclass(frozen=True, slots=True)
class Proof:
    """One ``[[proof]]`` that can be read; ``number`` is its place in the file, from 1.

    ``recipe`` is what it is about here, ``called`` the id that the recipe had at the commit, where it was another.
    ``size`` is the batch that was tested, ``pack`` the pack, where they were not the recipe's own.  ``value`` is the
    number that a test found (the SPF, the RDA), ``claim`` the words that it proves.
    """

    file: str
    number: int
    recipe: str
    kind: str
    commit: str
    hash: str
    report: str
    passed: datetime.date
    until: datetime.date | None = None
    called: str = ""
    size: Quantity | None = None
    pack: Quantity | None = None
    market: str = ""
    scheme: str = ""
    value: Decimal | None = None
    claim: str = ""

    @property
    def at(self) -> Path:
        """The path of the proof among the facts of its file."""
        return (PROOF, str(self.number))

    @property
    def named(self) -> str:
        """The id that the recipe had at the pinned commit."""
        return self.called or self.recipe

    @property
    def what(self) -> str:
        """Name what is proved, so that a newer proof of the same takes the place of an older one."""
        more = [self.scheme, self.market, "" if self.pack is None else str(self.pack), self.claim]
        words = ", ".join(word for word in more if word)
        return f"{title(self.kind)} ({words})" if words else title(self.kind)

    def ended(self, day: datetime.date) -> bool:
        """Say whether the proof holds no longer; its last day counts as held."""
        return self.until is not None and self.until < day


def title(kind: str) -> str:
    """Write a kind of evidence in words: ``challenge test``."""
    return kind.replace("-", " ")


def proofs(record: Record) -> tuple[Proof, ...]:
    """The proofs of an evidence file; one that lacks what it needs is left out (a finding says so)."""
    recipe = readable(record.facts.get(("recipe",)), str)
    if recipe is None:
        return ()
    rows: dict[str, dict[str, Any]] = {}
    for path, value in record.facts.items():
        if path[0] == PROOF and len(path) == 3:
            rows.setdefault(path[1], {})[path[2]] = value
    found = (_proof(record.file, int(number), recipe, row) for number, row in rows.items())
    return tuple(proof for proof in found if proof is not None)


_TEXTS: Final = ("kind", "commit", "hash", "report")


def _proof(file: str, number: int, recipe: str, row: dict[str, Any]) -> Proof | None:
    kind, commit, content, report = (readable(row.get(name), str) for name in _TEXTS)
    passed = readable(row.get("passed"), datetime.date)
    if None in (kind, commit, content, report, passed):
        return None
    called, market, scheme, claim = (
        readable(row.get(name), str) or "" for name in ("called", "market", "scheme", "claim")
    )
    value = readable(row.get("value"), Decimal)
    size, pack = (readable(row.get(name), Quantity) for name in ("size", "pack"))
    until = readable(row.get("until"), datetime.date)
    return Proof(
        file, number, recipe, kind, commit, content, report, passed, until, called, size, pack, market, scheme, value,
        claim,
    )  # fmt: skip
