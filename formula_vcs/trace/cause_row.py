"""What can make a result differ between two batches: one row of the table of causes, and the symptoms it is about."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Final

from formula_vcs.model.values import dataclass

PRACTICE: Final = "common practice, no source"
KINDS: Final = ("recipe", "process", "lot", "result")
QUANTITIES: Final = (
    "amount", "phase", "grade", "time", "speed", "shear", "temp", "rest", "pause", "equipment", "order", "yield",
    "certificate", "lot", "result",
)  # fmt: skip
ROLES: Final = (
    "wet", "hydrate", "reshear", "melt", "heat", "emulsify", "shear-cold", "cool", "finish", "acidify", "disperse",
    "stir", "rest", "join",
)  # fmt: skip
EFFECTS: Final = ("with", "against", "either")
CHECKED: Final = ("text", "excerpt", "memory")
_CHECKED_WORDS: Final = {"text": "", "excerpt": " (an excerpt was read)", "memory": " (from memory)"}


@dataclass(frozen=True, slots=True)
class Symptom:
    """A result by its names, and the words of a note that say it went down or up.  All names are folded."""

    name: str
    also: tuple[str, ...] = ()
    less: tuple[str, ...] = ()
    more: tuple[str, ...] = ()

    def means(self, result: str) -> int:
        """Say whether a result of this name is meant: "viscosity", "Viscosity, 20 degC", "viscosity_24h".

        Gives how many letters of it are known, 0 where none: "water activity" is meant by "water" less than by itself.
        """
        wanted = folded(result)
        names = map(folded, (self.name, *self.also))
        return max((len(name) for name in names if wanted == name or wanted.startswith(f"{name} ")), default=0)

    def said(self, text: str) -> int:
        """Say which way a note speaks of the symptom: -1 less, 1 more, 0 not, or both ways."""
        return _speaks(self.more, text) - _speaks(self.less, text)


@dataclass(frozen=True, slots=True)
class Cause:
    """One row: what differs (``what`` of materials with functions ``of``, in steps of a ``role``), and its effect.

    ``effect`` is "with" where the symptom goes the way of the quantity, "against" or "either".  Empty sets mean any.
    """

    id: str
    symptom: str
    kind: str
    what: frozenset[str]
    name: frozenset[str]
    of: frozenset[str]
    role: frozenset[str]
    forms: frozenset[str]
    effect: str
    why: str
    source: str
    checked: str

    @property
    def published(self) -> bool:
        """Say whether a source is named."""
        return not self.source.startswith(PRACTICE)

    @property
    def cited(self) -> str:
        """Give the source, and how it was checked."""
        return f"{self.source}{_CHECKED_WORDS.get(self.checked, '')}"

    @property
    def sign(self) -> int:
        """Give 1 where the symptom goes with the quantity, -1 against it, 0 either way."""
        return {"with": 1, "against": -1}.get(self.effect, 0)

    def fits(self, functions: Collection[str], roles: Collection[str], form: str | None) -> bool:
        """Say whether the row is about a material, a step and a form of product."""
        return (
            (not self.of or bool(self.of & set(functions)))
            and (not self.role or bool(self.role & set(roles)))
            and (not self.forms or form is None or form in self.forms)
        )

    def names(self, name: str) -> bool:
        """Say whether a lot's value or a result of this name is meant."""
        wanted = folded(name)
        return any(wanted == known or wanted.startswith(f"{known} ") for known in self.name)


def folded(name: str) -> str:
    """Fold a name so that spellings of it meet.

    >>> folded("Viscosity_24h,  20 degC")
    'viscosity 24h 20 degc'
    """
    return " ".join(re.sub(r"[_,;:()-]+", " ", name).casefold().split())


def _speaks(words: Collection[str], text: str) -> int:
    said = f" {' '.join(re.findall(r'[a-z0-9]+', text.casefold()))} "
    return int(any(f" {word} " in said for word in words))
