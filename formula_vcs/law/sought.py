"""What somebody looks for in recipes: a substance by any name of it, a CAS number, an entry of an annex, a function."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache
from typing import Final, NamedTuple

from formula_vcs.law.compliance import substances_of
from formula_vcs.law.identity import entry_of, identify, names_of_number
from formula_vcs.law.packs_in_force import Law, law_of
from formula_vcs.model.cas import cas_trouble
from formula_vcs.model.ingredient import Ingredient, SubstanceContent, inci_key
from formula_vcs.model.law_row import MARKETS, LawRow
from formula_vcs.words.late_pattern import late_pattern

NANO: Final = " (nano)"
_ENTRY: Final = late_pattern(
    r"(?:annex\s+)?(?P<annex>II|III|IV|V|VI)\s*/\s*(?P<number>\d+[a-z]?)(?P<tier>\(.*\))?", re.IGNORECASE
)
_CITED: Final = late_pattern(r"Annex (?P<annex>II|III|IV|VI|V)/(?P<numbers>[^;:]*)")
_NUMBERS: Final = late_pattern(r"(?P<low>\d+)(?P<letter>[a-z]?)(?P<tier>\([^ ]*\))?(?: to (?P<high>\d+))?")


class Sought(NamedTuple):
    """What is looked for: in words, what it was taken for where that is another name, and how to know it."""

    said: str
    meant: str
    is_it: Callable[[str, SubstanceContent], bool]
    whole: Callable[[Ingredient], bool] | None = None


def found_in(material: Ingredient, sought: Sought) -> dict[str, SubstanceContent]:
    """What of a material is looked for, by the law's names: substances, declared allergens and impurities."""
    if sought.whole is not None:
        return substances_of(material) if sought.whole(material) else {}
    return {key: held for key, held in substances_of(material).items() if sought.is_it(key, held)}


def by_name(name: str) -> Sought:
    """Look for a substance by any name of it; its nano form is meant too."""
    found = identify(name)
    keys = {found.key.removesuffix(NANO), inci_key(name).removesuffix(NANO)}
    said = " ".join(name.split())
    meant = found.inci if found.certain and inci_key(found.inci) != inci_key(said) else ""
    return Sought(said, meant, lambda key, held: not keys.isdisjoint(_keys(key, held)))


def _keys(key: str, held: SubstanceContent) -> set[str]:
    return {key.removesuffix(NANO), inci_key(held.spelled).removesuffix(NANO)}


def by_number(number: str) -> Sought | None:
    """Look for a CAS number: as a material states it, or as the inventory has it for a name; None where it is none."""
    if cas_trouble(number):
        return None
    names = names_of_number(number)
    keys = set(map(inci_key, names))
    return Sought(
        f"CAS {number}",
        " or ".join(names),
        lambda key, held: number in held.cas.split("; ") or key.removesuffix(NANO) in keys,
    )


def by_entry(entry: str) -> Sought | None:
    """Look for what an entry of an annex, or a section of 21 CFR, speaks of; None where that is no entry."""
    wanted = read_entry(entry)
    if wanted is None:
        return None
    law = law_of(MARKETS)
    known = lru_cache(maxsize=None)(lambda key, spelled, cas: _spoken_of(law, wanted, key, spelled, cas))
    return Sought(wanted, "", lambda key, held: known(key, held.spelled, held.cas))


def _spoken_of(law: Law, entry: str, key: str, spelled: str, cas: str) -> bool:
    numbers = tuple(filter(None, cas.split("; ")))
    return any(cites(row, entry) for row in rows_about(law, key, spelled, numbers))


def rows_about(law: Law, key: str, spelled: str, numbers: tuple[str, ...]) -> list[LawRow]:
    """The rows about a substance, by its names, its numbers and the family that it is of."""
    names = tuple(dict.fromkeys((key, inci_key(spelled))))
    return list(law.of_substance(names, numbers))


def by_function(word: str) -> Sought:
    """Look for materials by a function: their own, or that of what they are made of where they state none."""
    wanted = " ".join(word.casefold().split())

    def has_it(material: Ingredient) -> bool:
        if material.functions:
            return any(wanted == function.casefold() for function in material.functions)
        entries = (entry_of(identify(name).inci) for name in material.substances)
        return any(entry is not None and wanted in entry.functions for entry in entries)

    return Sought(f"function {wanted}", "", lambda *_: False, has_it)


def read_entry(text: str) -> str | None:
    """Read an entry as people write it: "III/24", "Annex iii/12(a)", "21 CFR 700.13"; None where it is none.

    >>> read_entry("annex iii/24"), read_entry("V/12a"), read_entry("21 cfr 700.13"), read_entry("24")
    ('III/24', 'V/12a', '21 CFR 700.13', None)
    """
    said = " ".join(text.split())
    match = _ENTRY.fullmatch(said)
    if match is not None:
        return f"{match['annex'].upper()}/{match['number'].lower()}{(match['tier'] or '').lower()}"
    section = re.fullmatch(r"21 CFR (\d+\.\d+\S*)", said, re.IGNORECASE)
    return f"21 CFR {section[1]}" if section is not None else None


def cites(row: LawRow, entry: str) -> bool:
    """Say whether a row stands for an entry: by itself, as one of several, or as a part of it (12 has 12(a))."""
    if entry.startswith("21 CFR"):
        return re.search(rf"{re.escape(entry)}(?!\d)", row.citation) is not None
    match = _ENTRY.fullmatch(entry)
    assert match is not None  # noqa: S101 - it was read before
    return any(
        cited["annex"] == match["annex"] and _among(cited["numbers"], match["number"], match["tier"] or "")
        for cited in _CITED.finditer(row.citation)
    )


def _among(numbers: str, number: str, tier: str) -> bool:
    for one in _NUMBERS.finditer(re.sub(r" \(.*", "", numbers)):
        alone = f"{one['low']}{one['letter']}"
        in_span = one["high"] and number.isdigit() and int(one["low"]) <= int(number) <= int(one["high"])
        if in_span or (alone == number and (not tier or (one["tier"] or "").startswith(tier))):
            return True
    return False
