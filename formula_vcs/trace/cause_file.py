"""Known causes of differences: a row, and how its file is read."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Any, Final

from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.values import dataclass
from formula_vcs.toml import takers
from formula_vcs.toml.takers import FactReader, Taker, wrong_kind

# --- What can make a result differ between two batches: one row of the table of causes, and the symptoms it is about


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


# --- Read the table of causes (`rules/packs/causes.toml`): data only, every bad row said


def _words(sheet: FactReader, path: Path, raw: Any) -> None:
    if not isinstance(raw, list) or not raw or not all(isinstance(item, str) and item.strip() for item in raw):
        wrong_kind(sheet, path, raw, 'a list of words, ["...", "..."],')
    else:
        sheet.put(path, tuple(raw))


def _of(*known: str) -> Taker:
    """Take a list of words that are all known."""

    def take(sheet: FactReader, path: Path, raw: Any) -> None:
        _words(sheet, path, raw)
        strange = [item for item in raw if item not in known] if isinstance(sheet.facts[path], tuple) else []
        if strange:
            words = f"'{path[-1]}': '{takers.shown(strange[0])}' is not known{takers.nearest(strange[0], known)}"
            sheet.refuse(path, raw, words)

    return take


_SYMPTOM: Final[dict[str, Taker]] = {"name": takers.text, "also": _words, "less": _words, "more": _words}
_FUNCTION: Final[dict[str, Taker]] = {"name": takers.text, "also": _words}
_CAUSE: Final[dict[str, Taker]] = {
    "id": takers.text,
    "symptom": takers.text,
    "kind": takers.one_of(*KINDS),
    "what": _of(*QUANTITIES),
    "name": _words,
    "of": _words,
    "role": _of(*ROLES),
    "forms": _words,
    "effect": takers.one_of(*EFFECTS),
    "why": takers.text,
    "source": takers.text,
    "checked": takers.one_of(*CHECKED),
}


def _cause(sheet: FactReader, path: Path, raw: Any) -> None:
    required = ("id", "symptom", "kind", "what", "effect", "why", "source")
    takers.table(_CAUSE, required=required, where=f"cause {path[-1]}")(sheet, path, raw)
    source = raw.get("source")
    practice = isinstance(source, str) and source.startswith(PRACTICE)
    if practice == ("checked" in raw):
        words = "common practice has no source to check" if practice else "say how the source was checked"
        sheet.refuse((*path, "checked"), raw.get("checked"), f"cause {path[-1]}: {words}")
    named = {"certificate", "result"} & set(raw.get("what", ()))
    if bool(named) != ("name" in raw):
        words = "a lot's value or a result is meant by its 'name', and nothing else has one"
        sheet.refuse((*path, "name"), raw.get("name"), f"cause {path[-1]}: {words}")


def read_causes(data: dict[str, Any]) -> Facts:
    """Read the data of a table of causes into facts; refused values are among them."""
    sheet = FactReader()
    symptom = takers.table(_SYMPTOM, required=("name",))
    function = takers.table(_FUNCTION, required=("name", "also"))
    known = {
        "title": takers.text,
        "function": takers.rows(function),
        "symptom": takers.rows(symptom),
        "cause": takers.rows(_cause),
    }
    takers.table(known, required=("title",))(sheet, (), data)
    return sheet.facts
