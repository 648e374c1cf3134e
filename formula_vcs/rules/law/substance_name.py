"""Names and CAS numbers of substances: a slip in one would take a substance out of every limit unseen."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Final

from formula_vcs.law.annex_store import annex_rows_about
from formula_vcs.law.identity import entry_of, identify, names_of_number
from formula_vcs.law.packs_in_force import is_named, known_names
from formula_vcs.model.cas import cas_trouble
from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.ingredient import Ingredient, inci_key
from formula_vcs.rules.rule import Rule
from formula_vcs.words.slips import distance

_SHORT: Final = 6
_EDGE: Final = 3
_LONG: Final = 10
_MOST_NAMES: Final = 3
_OF_PLANTS: Final = frozenset(
    ("Oil", "Extract", "Butter", "Wax", "Cera", "Water", "Juice", "Powder", "Starch", "Flour", "Gum", "Resin",
     "Protein", "Absolute", "Seed", "Leaf", "Root", "Bark", "Flower", "Fruit", "Unsaponifiables")
)  # fmt: skip


class CasNumber(Rule):
    """A CAS number has the right form and the right check digit.

    Why: the last digit is worked out from the others, so that a slip of the pen shows.  A number that fails it
    belongs to no substance.
    """

    id = "cas-number"
    source = "CAS, check digit verification"
    judges = "ingredient"

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Check every CAS number of the composition."""
        for path, number in _numbers(ingredient):
            trouble = cas_trouble(number)
            if trouble:
                yield self.say_of(ingredient, f"'{path[1]}': '{number}' {trouble}", (*path, "cas"))


class SubstanceCas(Rule):
    """The CAS number of a substance is one that the inventory or a pack has for its name.

    Why: the law names substances by both.  Where they disagree one of them is wrong, and nobody here knows which: the
    recipe is judged by the name and by the number, and what either makes unlawful blocks.  The disagreement itself is
    a warning.  A number that no table has for any name is a note: the tables do not hold every number.  Of a plant the
    number of another part of it says nothing, since registers number plants.
    """

    id = "substance-cas"
    severity = "warn"
    source = "the Commission's inventory of cosmetic ingredients (CosIng), the packs' lists"
    judges = "ingredient"

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Compare every name with its number."""
        for path, number in _numbers(ingredient):
            own = _own_numbers(path[1])
            if not own or number in own or cas_trouble(number):
                continue
            others = names_of_number(number)
            if any(_one_plant(identify(path[1]).inci, other) for other in others):
                continue
            if others:
                words = (
                    f"'{path[1]}' has CAS {number} here, which the inventory has for {_either(others)}; its own is "
                    f"{', '.join(own)}. It is judged as both"
                )
                yield self.say_of(ingredient, words, (*path, "cas"))
            else:
                words = f"'{path[1]}' has CAS {number} here; the tables know it as {', '.join(own)}"
                yield self.say_of(ingredient, words, (*path, "cas"), severity="note")


class SubstanceName(Rule):
    """The name of every substance and every declared allergen is one that is known.

    Why: "Sodium Benzoat" has no limit anywhere, because nobody has heard of it.  Names are looked up in the
    Commission's inventory of 28,776 INCI names and in tables of other names: American label names, colour index and E
    numbers, drug names, older INCI, British spelling, names in other languages, what fragrance houses write.  Another
    name of a substance is taken as that substance, and a note gives its INCI name.  A name that no table has is a
    warning, always: no ban, limit or label duty that goes by a name can find it.

    So:
        "Sodium Benzoate" = { pct = 100, cas = "532-32-1" }
    """

    id = "substance-name"
    severity = "warn"
    source = "the Commission's inventory of cosmetic ingredients (CosIng), the packs' lists"
    judges = "ingredient"

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Look every name up."""
        for table in ("substances", "allergens"):
            for path in ingredient.facts:
                if len(path) == 2 and path[0] == table:
                    number = ingredient.get(*path, "cas") or ""
                    words, severity = _said(path[1], "" if cas_trouble(number) else number)
                    if words:
                        yield self.say_of(ingredient, words, path, severity=severity)


def _numbers(ingredient: Ingredient) -> Iterator[tuple[Path, str]]:
    for path, value in ingredient.facts.items():
        if len(path) == 3 and path[0] in ("substances", "allergens") and path[2] == "cas" and isinstance(value, str):
            yield path[:2], value


def _one_plant(name: str, other: str) -> bool:
    """Say whether two names are of one plant: registers number a plant, and its parts by turns."""
    one, two = name.split(), other.split()
    return len(one) > 2 and one[-1] in _OF_PLANTS and one[:2] == two[:2]


def _own_numbers(name: str) -> tuple[str, ...]:
    """Give the CAS numbers of what a name means by itself, empty where no table has any, or no table has the name."""
    found = identify(name)
    entry = entry_of(found.inci) if found.certain else None
    packs = [known_names().get(key) for key in (found.key, inci_key(name))]
    return tuple(
        dict.fromkeys(
            (*(entry.cas if entry else ()), *(one for known in packs if known is not None for one in known.cas))
        )
    )


@lru_cache(maxsize=16384)
def _said(name: str, number: str) -> tuple[str, Severity]:
    """Say what a name was taken for, or that it is not known; nothing where it is an INCI name or one of the law."""
    found = identify(name, number)
    if found.how == "inci" or (not found.certain and is_named(name)):
        return "", "note"
    if found.how in ("spelling", "other name", "chemical name"):
        what = f" ({_KINDS[found.kind]})" if found.kind else ""
        return f"'{name}'{what} is '{found.inci}' in the INCI, and is judged as that", "note"
    if found.how == "number":
        return f"no table here knows '{name}'; by its CAS number it is '{found.inci}', and is judged as that", "warn"
    words = f"no table here knows '{name}', so no ban, limit or label duty that goes by its name can find it"
    near = found.near or tuple(filter(None, (nearest_name(inci_key(name)),)))
    numbered = names_of_number(number) or _names_in_annexes(number)
    if numbered:
        return f"{words}; its CAS number is that of {_either(numbered)}", "warn"
    return (f"{words}; did you mean {_either(near)}?" if near else words), "warn"


def _names_in_annexes(number: str) -> tuple[str, ...]:
    rows = annex_rows_about((), (number,)) if number else []
    return tuple(dict.fromkeys(row.spelled[0] for row in rows if row.spelled))


_KINDS: Final = {
    "us-name": "the name on labels in the United States",
    "colour": "a name of a colour",
    "e-number": "the number of a food additive",
    "drug": "a name of a drug or vitamin",
    "chemical": "a chemist's name",
    "old INCI": "an older INCI name",
    "trade": "a trade name",
    "common": "a common name",
    "language": "a name in another language",
}


def _either(names: tuple[str, ...]) -> str:
    quoted = [f"'{name}'" for name in names[:_MOST_NAMES]]
    return " or ".join((", ".join(quoted[:-1]), quoted[-1])) if len(quoted) > 1 else quoted[0]


@lru_cache(maxsize=1)
def _edges() -> dict[str, list[str]]:
    """Sort the known names by how they begin and how they end: a slip is in one place, the other end is whole."""
    found: dict[str, list[str]] = {}
    for key in known_names():
        for edge in (f"^{key[:_EDGE]}", f"{key[-_EDGE:]}$"):
            found.setdefault(edge, []).append(key)
    return found


@lru_cache(maxsize=4096)
def nearest_name(key: str) -> str | None:
    """Give a name of the packs at the distance of a slip: one letter, two in a long name; None where there is none."""
    if len(key) < _SHORT:
        return None
    most = 2 if len(key) >= _LONG else 1
    candidates = {*_edges().get(f"^{key[:_EDGE]}", ()), *_edges().get(f"{key[-_EDGE:]}$", ())}
    found = min(
        ((distance(key, other, most), other) for other in candidates if abs(len(other) - len(key)) <= most),
        default=(most + 1, ""),
    )
    return known_names()[found[1]].spelled if found[0] <= most else None
