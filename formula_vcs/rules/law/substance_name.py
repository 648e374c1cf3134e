"""Names of substances, their CAS numbers, and what the annexes may mean by them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import Final

from formula_vcs.law.annex_store import annex_rows_about
from formula_vcs.law.compliance import Compliance, in_force
from formula_vcs.law.identity import entry_of, identify, law_key, names_of_number
from formula_vcs.law.limit_use import percent
from formula_vcs.law.packs_in_force import is_named, known_names
from formula_vcs.law.sought import rows_about
from formula_vcs.model.cas import cas_trouble
from formula_vcs.model.facts import Facts, Path
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient, inci_key
from formula_vcs.model.law_row import LawRow
from formula_vcs.model.values import replace
from formula_vcs.rules.law.allowed_substances import PACKS, PackRule
from formula_vcs.rules.rule import Case, Rule
from formula_vcs.words.quoting import distance

# --- Names and CAS numbers of substances: a slip in one would take a substance out of every limit unseen


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
    """The CAS numbers of what a name means by itself, empty where no table has any, or no table has the name."""
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
    """A name of the packs at the distance of a slip: one letter, two in a long name; None where there is none."""
    if len(key) < _SHORT:
        return None
    most = 2 if len(key) >= _LONG else 1
    candidates = {*_edges().get(f"^{key[:_EDGE]}", ()), *_edges().get(f"{key[-_EDGE:]}$", ())}
    found = min(
        ((distance(key, other, most), other) for other in candidates if abs(len(other) - len(key)) <= most),
        default=(most + 1, ""),
    )
    return known_names()[found[1]].spelled if found[0] <= most else None


# --- What the law would say if a misspelt name meant what it is nearest to


_TABLES = ("substances", "allergens")


class GuessedName(Rule):
    """A name that is nearly one of a limited or prohibited substance does not hide it.

    Why: "Sodium Benzoat" has no limit, "Sodium Benzoate" has; a slip must not be a way past the law.  Nobody here can
    be sure what was meant, so what the nearest name would make unlawful is a warning that says both names, and the
    name itself is one by `substance-name`.

    So:
        "Sodium Benzoate" = { pct = 100, cas = "532-32-1" }
    """

    id = "guessed-name"
    severity = "warn"
    source = PACKS

    def check(self, case: Case) -> Iterator[Finding]:
        """Judge the recipe once more with the nearest names in place of those that no table knows."""
        found = case.finished
        if found is None:
            return
        leaves = {name: _guesses(case.formula.ingredients.get(name)) for name in case.sums.leaves}
        guesses = {name: near for name, of in leaves.items() if (near := _ruled(found, of))}
        if not guesses:
            return
        meant = _meant(case.formula, guesses)
        before = {(finding.rule, finding.subject) for finding in _blocking(case)}
        said = " and ".join(
            f"'{name}' is '{near}'" for name, near in sorted({pair for of in guesses.values() for pair in of.items()})
        )
        for finding in _blocking(Case(meant, case.day)):
            if (finding.rule, finding.subject) not in before:
                words = f"if {said}: {finding.message}"
                subject = f"{finding.rule}/{finding.subject}"
                yield replace(self.say(case, words, finding.at, subject=subject), source=finding.source)


def _guesses(ingredient: Ingredient | None) -> dict[str, str]:
    """The names of a material that no table knows, each with the nearest one that is known."""
    if ingredient is None:
        return {}

    def guessed() -> dict[str, str]:
        names = {path[1]: path for path in ingredient.facts if len(path) == 2 and path[0] in _TABLES}
        found = {name: identify(name, ingredient.get(*path, "cas") or "") for name, path in names.items()}
        return {name: one.near[0] for name, one in found.items() if one.how == "near" and not is_named(name)}

    return ingredient.derived.cached("guesses", guessed)


def _ruled(found: Compliance, guesses: dict[str, str]) -> dict[str, str]:
    """The guesses that some row in force speaks of: with the others nothing can turn."""
    return {
        name: near
        for name, near in guesses.items()
        if rows_about(found.law, law_key(near), near, ()) or any(law_key(near) in row.names for row in found.house)
    }


def _meant(formula: Formula, guesses: dict[str, dict[str, str]]) -> Formula:
    materials = dict(formula.ingredients)
    for name, of in guesses.items():
        materials[name] = replace(materials[name], facts=_renamed(materials[name].facts, of))
    return replace(formula, ingredients=materials)


def _renamed(facts: Facts, names: dict[str, str]) -> Facts:
    """A material's facts with other names; where it states both, their shares are added up."""
    found = {path: value for path, value in facts.items() if not (path[0] in _TABLES and path[1] in names)}
    for path, value in facts.items():
        if path[0] in _TABLES and path[1] in names:
            other = (path[0], names[path[1]], *path[2:])
            known = found.get(other)
            both = len(path) == 2 and known is not None and type(known) is type(value)
            found[other] = known + value if both else value
    return found


def _blocking(case: Case) -> list[Finding]:
    from formula_vcs.rules.registry import OF_LAW

    rules = [rule for rule in OF_LAW if isinstance(rule, PackRule) and rule.severity == "block"]
    return [finding for rule in rules for finding in rule.check(case) if finding.severity == "block"]


# --- Hints that are not the law: what an authority's list ties to an entry, and numbers that several materials share


_LONGEST = 160


class AnnexHint(PackRule):
    """A substance that an authority counts under an entry of the annexes is looked at.

    Why: an entry names a group ("and its salts", "its derivatives", "preparations"), and whether a substance is of it
    the law does not always say.  The Commission's CosIng and ECHA's lists tie names to entries; both say that they
    are no law.  Of some materials the text itself leaves open whether an entry is about them.  So this never blocks: it
    asks for a ruling.  A row of the house about the substance that cites the entry is one, whatever it says; and a
    recipe can accept the finding.

    So:
        [[rule]]                            # rules/rulings.toml
        id = "bentonite-aluminium"
        kind = "allowed"
        substances = ["Bentonite"]
        source = "Ruling of our safety assessor, 12 May 2026: no case of Annex III/381"
    """

    id = "annex-hint"
    legal = False
    severity = "warn"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every tie that is only a hint."""
        found = case.finished
        if found is None:
            return
        for hit in in_force(found, case.day):
            row = hit.row
            if row.kind != "hint":
                continue
            title = row.words if len(row.words) <= _LONGEST else f"{row.words[:_LONGEST].rsplit(' ', 1)[0]} ..."
            for key in hit.keys:
                if _ruled_by_annex(found, row, key):
                    continue
                name = f"{found.spelled(key)} ({percent(found.totals[key].pct)})"
                words = f"{name}: {_why(row)} {row.citation} ('{title}'). {_ask(row)}"
                yield self.of_row(case, row, words, found.main_charge([key]), key)


def _why(row: LawRow) -> str:
    if row.id.endswith("-shared"):
        return "it shares its CAS number with"
    return "CosIng or ECHA counts it under" if row.id.endswith("-hint") else "it may fall under"


def _ask(row: LawRow) -> str:
    if row.note:
        return f"A ruling is needed: {row.note}"
    return "That is a hint and not the law: find out whether the entry is about it"


def _ruled_by_annex(found: Compliance, row: LawRow, key: str) -> bool:
    """Say whether a row of the house settles a hint: it is about the substance and cites the entry."""
    entry = row.citation.rsplit(", ", 1)[-1]
    own = (other for other in found.house if key in other.names)
    return any(re.search(rf"{re.escape(entry)}(?!\d)", other.citation) for other in own)
