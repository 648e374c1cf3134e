"""Names and CAS numbers of substances: a slip in one would take a substance out of every limit unseen."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Final

from formula_vcs.law.annex_store import annex_rows_about, annexes_name
from formula_vcs.law.packs_in_force import known_names, names_by_cas
from formula_vcs.model.cas import cas_trouble
from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import Ingredient, inci_key
from formula_vcs.rules.rule import Rule
from formula_vcs.words.slips import distance

_SHORT: Final = 6
_EDGE: Final = 3
_LONG: Final = 10
# Near a name of the packs and yet another substance: never asked about.
_OWN_NAMES: Final = frozenset(
    {"sodium chloride", "potassium chloride", "citric acid", "lactic acid", "malic acid", "sodium citrate",
     "magnesium chloride", "calcium chloride", "sodium lactate", "ethyl lactate", "stearic acid", "oleic acid",
     "zinc oxide", "zinc lactate", "calcium phosphate", "sodium phosphate", "aluminum hydroxide"}
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
        for name, number in _numbers(ingredient):
            trouble = cas_trouble(number)
            if trouble:
                yield self.say_of(ingredient, f"'{name}': '{number}' {trouble}", ("substances", name, "cas"))


class SubstanceCas(Rule):
    """The CAS number of a substance is one that the packs have for its name.

    Why: name and number are looked up by turns; where they disagree, one of them is wrong, and with it the limit.
    A warning: a substance may have numbers that the packs do not list.
    """

    id = "substance-cas"
    severity = "warn"
    source = "the packs' lists of names and CAS numbers"
    judges = "ingredient"

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Compare every name with its number."""
        known = known_names()
        for name, number in _numbers(ingredient):
            own = known.get(inci_key(name))
            if own is not None and own.cas and number not in own.cas and not cas_trouble(number):
                words = f"'{name}' has CAS {number} here; the packs know it as {', '.join(own.cas)}"
                yield self.say_of(ingredient, words, ("substances", name, "cas"))


class SubstanceName(Rule):
    """A substance is not written almost like one that the packs know, nor under another name for its CAS number.

    Why: "Sodium Benzoat" has no limit anywhere, because nobody has heard of it.

    So:
        "Sodium Benzoate" = { pct = 100, cas = "532-32-1" }
    """

    id = "substance-name"
    severity = "warn"
    source = "the packs' lists of names and CAS numbers"
    judges = "ingredient"

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Look for names that are near to one of the packs."""
        known = known_names()
        for table in ("substances", "allergens"):
            for path in ingredient.facts:
                if len(path) != 2 or path[0] != table or inci_key(path[1]) in known or annexes_name(inci_key(path[1])):
                    continue
                words = _doubt(path[1], ingredient.get(table, path[1], "cas") or "")
                if words:
                    yield self.say_of(ingredient, words, path)


def _numbers(ingredient: Ingredient) -> Iterator[tuple[str, str]]:
    for path, value in ingredient.facts.items():
        if len(path) == 3 and path[0] == "substances" and path[2] == "cas" and isinstance(value, str):
            yield path[1], value


def _doubt(name: str, number: str) -> str:
    """Say why a name that no pack knows is in doubt, nothing where it is not."""
    known = known_names()
    by_number = names_by_cas().get(number)
    if by_number is not None:
        return f"'{name}' has CAS {number}, that of '{known[by_number].spelled}': one of the two is not right"
    rows = annex_rows_about((), (number,)) if number else []
    banned = [row.spelled[0] for row in rows if row.spelled and row.pack == "eu-annex-ii" and row.kind == "prohibited"]
    if banned:
        return f"'{name}' has CAS {number}, that of '{banned[0]}': one of the two is not right"
    close = nearest_name(inci_key(name))
    if close is None or (number and known[close].cas and not cas_trouble(number)):
        return ""
    return f"no pack knows '{name}'; did you mean '{known[close].spelled}'?"


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
    """Give a known name at the distance of a slip: one letter, two in a long name; None where there is none."""
    if len(key) < _SHORT or key in _OWN_NAMES:
        return None
    most = 2 if len(key) >= _LONG else 1
    candidates = {*_edges().get(f"^{key[:_EDGE]}", ()), *_edges().get(f"{key[-_EDGE:]}$", ())}
    best = min(
        ((distance(key, other, most), other) for other in candidates if abs(len(other) - len(key)) <= most),
        default=(most + 1, ""),
    )
    return best[1] if best[0] <= most else None
