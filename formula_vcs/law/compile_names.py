"""Bring in an inventory of INCI names: ``python -m formula_vcs.law.compile_names [INVENTORY.csv]``.

With a file: a new edition of the inventory.  It is a CSV file (also .gz) with a heading that has the columns ``inci``,
``cas``, ``ec`` and ``functions`` (further ones are left alone); several CAS or EC numbers of one name stand behind one
another with "; ", functions with ", ", as the Commission's own export of CosIng has them.  It becomes
`tables/inventory.tsv`.  Without a file only what follows from that table and from `tables/synonyms.toml` is written
anew: `cas-names.tsv` (CAS number to names), `other-names.tsv` (synonyms), `words.tsv` (for names with a slip in them).
Run it without a file after every edit of `synonyms.toml`; a test fails where the two differ.

With ``--chemical-names`` it also writes `chemical-names.tsv`, from the synonyms of PubChem that the package `chemicals`
carries (a test dependency of ours): of every CAS number that the inventory has for one name alone.

What ties a name to an entry of an annex is no matter of these tables: an inventory has no legal value.
"""

from __future__ import annotations

import argparse
import csv
import gzip
import io
import re
import sys
import tomllib
from collections.abc import Collection, Iterable, Iterator
from pathlib import Path
from typing import Any, Final, NamedTuple

from formula_vcs.law.identity import loose_key
from formula_vcs.law.sorted_table import table_text
from formula_vcs.model.cas import cas_trouble
from formula_vcs.words.late_pattern import late_pattern

TABLES: Final = Path(__file__).with_name("tables")
INVENTORY: Final = (
    "INCI names, CAS numbers, EC numbers and functions of the European Commission's inventory of cosmetic ingredients",
    "(CosIng; editions of 2020-12-30 and 2025-08-27 together). Reuse by Decision 2011/833/EU; informative,",
    "no legal value. Cells: loose key, INCI name, CAS numbers, EC numbers, functions.",
)
OTHERS: Final = ("Other names, from synonyms.toml. Cells: loose key, name as written, INCI name, kind, source.",)
CHEMICAL: Final = (
    "Synonyms deposited with PubChem (U.S. National Library of Medicine, public domain), by CAS number, as carried by",
    "the Python package chemicals (MIT). Cells: loose key, INCI name.",
)
NUMBERS: Final = ("CAS numbers of the inventory. Cells: CAS number, INCI name.",)
WORDS: Final = ("Words of the names, forwards, and backwards behind '<'. One cell.",)
_CAPITALS: Final = frozenset({
    "ADP", "AEEA", "AMP", "AMPD", "AMPS", "ATP", "BHA", "BHT", "CHDM", "CI", "DBM", "DCC", "DEA", "DEDM", "DHA",
    "DIBA", "DIPA", "DMAP", "DMAPA", "DMDM", "DMHF", "DMPA", "DMSO", "DNA", "DTPA", "DVB", "EDTA", "EGDMA", "EPA",
    "FCF", "GABA", "HC", "HDI", "HEDTA", "HEMA", "HPA", "HPC", "HPMC", "II", "III", "IPA", "IPDI", "IV", "MA",
    "MCT", "MDI", "MDM", "MEA", "MEK", "MIBK", "MIPA", "MSM", "NADH", "NG", "NTA", "PABA", "PCA", "PCL", "PEG",
    "PEI", "PET", "PG", "PHA", "PHMB", "PPG", "PTFE", "PVC", "PVM", "PVP", "RNA", "SD", "SMDI", "TAED", "TBHQ",
    "TDI", "TEA", "TIPA", "TMDI", "TMMG", "TMP", "UV", "VA", "VI", "VII", "VIII", "VP",
})  # fmt: skip
_SALTS: Final = {"HCL": "HCl", "HBR": "HBr", "HF": "HF", "PH": "pH"}
_WORD: Final = late_pattern(r"[^\W_]+")
# What chemistry writes small before a hyphen: "alpha-Isomethyl Ionone", "p-Phenylenediamine".
_PREFIX: Final = late_pattern(r"(?<![\w-])(?:Alpha|Beta|Gamma|Delta|Omega|Tert|Sec|Cis|Trans|P|O|M)(?=-[A-Z])")
_LONGEST_SYNONYM: Final = 60


class ExportedEntry(NamedTuple):
    """A name of the inventory; numbers and functions joined as in the table."""

    inci: str
    cas: str
    ec: str
    functions: str


def titled(name: str) -> str:
    """Write a name of capitals as a label does.

    >>> titled("PEG-40 HYDROGENATED CASTOR OIL"), titled("LYSINE HCL"), titled("2-BROMO-2-NITROPROPANE-1,3-DIOL")
    ('PEG-40 Hydrogenated Castor Oil', 'Lysine HCl', '2-Bromo-2-Nitropropane-1,3-Diol')
    """

    def cased(word: re.Match[str]) -> str:
        return _SALTS.get(word[0]) or (word[0] if word[0] in _CAPITALS else word[0].capitalize())

    words = " ".join(name.split())
    return _PREFIX.sub(lambda word: word[0].lower(), _WORD.sub(cased, words)) if name.isupper() else words


def read_inventory(file: Path) -> list[ExportedEntry]:
    """Read an export of the inventory; of spellings of one name that differ in signs only, the shortest stays.

    :raises ValueError: a column is missing.
    """
    raw = gzip.decompress(file.read_bytes()) if file.suffix == ".gz" else file.read_bytes()
    table = csv.DictReader(io.StringIO(raw.decode("utf-8-sig")))
    missing = {"inci", "cas", "ec", "functions"}.difference(table.fieldnames or ())
    if missing:
        raise ValueError(f"{file.name}: no column {', '.join(sorted(missing))}")
    found: dict[str, ExportedEntry] = {}
    for row in sorted(table, key=lambda row: (len(row["inci"]), row["inci"])):
        numbers = [number for number in row["cas"].split("; ") if number and not cas_trouble(number)]
        entry = ExportedEntry(titled(row["inci"]), "; ".join(numbers), row["ec"], row["functions"].casefold())
        known = found.setdefault(loose_key(entry.inci), entry)
        if known is not entry:
            both = dict.fromkeys((*filter(None, known.cas.split("; ")), *numbers))
            found[loose_key(entry.inci)] = known._replace(cas="; ".join(both), ec=known.ec or entry.ec)
    return list(found.values())


def kept_inventory() -> list[ExportedEntry]:
    """Read the inventory as the project has it."""
    lines = (TABLES / "inventory.tsv").read_text(encoding="utf-8").splitlines()
    return [ExportedEntry(*line.split("\t")[1:]) for line in lines if not line.startswith("#")]


def inventory_text(entries: Iterable[ExportedEntry]) -> str:
    """Write the inventory as a table."""
    return table_text(((loose_key(entry.inci), *entry) for entry in entries), INVENTORY)


def numbers_text(entries: Iterable[ExportedEntry]) -> str:
    """Write which names a CAS number belongs to."""
    pairs = ((number, entry.inci) for entry in entries for number in entry.cas.split("; ") if number)
    return table_text(pairs, NUMBERS)


def synonyms() -> Iterator[tuple[str, str, str, str]]:
    """The other names that the project states: name, INCI name, kind, source."""
    data: dict[str, Any] = tomllib.loads((TABLES / "synonyms.toml").read_text(encoding="utf-8"))
    for group in data["group"]:
        for name, inci in group["names"].items():
            yield name, inci, group["kind"], group["source"]
    for family in data["family"]:
        yield from _members(family)
    yield from _salts(data)
    yield from _waxes({name for group in data["group"] for name in group["names"]})


def _members(family: dict[str, Any]) -> Iterator[tuple[str, str, str, str]]:
    for inci, words in family["names"].items():
        for language, word in words.items():
            for pattern in family["patterns"][language]:
                yield pattern.format(word), inci, family["kind"], family["source"]


def _waxes(stated: Collection[str]) -> Iterator[tuple[str, str, str, str]]:
    """What labels in the United States call waxes, which the European name has in Latin: "... Cera"."""
    entries = kept_inventory()
    known = {loose_key(name) for name in (*stated, *(entry.inci for entry in entries))}
    for entry in entries:
        name = f"{entry.inci.removesuffix('Cera')}Wax"
        if entry.inci.endswith(" Cera") and loose_key(name) not in known:
            yield name, entry.inci, "us-name", "names in English of what the inventory has in Latin"


def _salts(data: dict[str, Any]) -> Iterator[tuple[str, str, str, str]]:
    """Give salts and oxides in other languages, put together from the words for their parts; known ones only."""
    salt, kind, source = data["salt"], data["salt"]["kind"], data["salt"]["source"]
    known = {loose_key(entry.inci): entry.inci for entry in kept_inventory()}
    for cation, cations in salt["cation"].items():
        for anion, anions in salt["anion"].items():
            inci = known.get(loose_key(f"{cation} {anion}"))
            if inci is not None:
                for language, pattern in salt["pattern"].items():
                    yield pattern.format(cation=cations[language], anion=anions[language]), inci, kind, source


def others_text() -> str:
    """Write the other names as a table.

    :raises ValueError: a name stands twice with two meanings, or means what no inventory has.
    """
    known = {loose_key(entry.inci): entry.inci for entry in kept_inventory()}
    found: dict[str, tuple[str, ...]] = {}
    for name, inci, kind, source in synonyms():
        key = loose_key(name)
        if loose_key(inci) not in known:
            raise ValueError(f"synonyms: '{name}': the inventory has no '{inci}'")
        row = (key, name, known[loose_key(inci)], kind, source)
        if key != loose_key(inci) and found.setdefault(key, row)[2] != row[2]:
            raise ValueError(f"synonyms: '{name}' is '{found[key][2]}' and '{row[2]}'")
    return table_text(found.values(), OTHERS)


def words_text() -> str:
    """Write the words of all names, each forwards and backwards."""
    names = [entry.inci for entry in kept_inventory()]
    names += [name for name, *_ in synonyms()]
    words = {word for name in names for word in words_of(name)}
    return table_text([*((word,) for word in words), *((f"<{word[::-1]}",) for word in words)], WORDS)


def words_of(name: str) -> list[str]:
    """The words of a name, each folded.

    >>> words_of("Butyrospermum Parkii Butter"), words_of("Sodium Lauryl-Sulphate")
    (['butyrospermum', 'parkii', 'butter'], ['sodium', 'lauryl', 'sulfate'])
    """
    return [key for key in map(loose_key, re.split(r"[^\w']+", name)) if key]


def chemical_names(rows: Iterable[list[str]]) -> Iterator[tuple[str, str]]:
    """Give synonyms by CAS number, where the number is one INCI name's and the synonym is one number's.

    ``rows`` are those of PubChem's extract: the CAS number stands in the second cell, names from the eighth on.
    """
    entries = kept_inventory()
    by_number: dict[str, str] = {}
    for entry in entries:
        for number in filter(None, entry.cas.split("; ")):
            by_number[number] = "" if number in by_number else entry.inci
    taken = {loose_key(entry.inci) for entry in entries} | {loose_key(name) for name, *_ in synonyms()}
    found: dict[str, set[str]] = {}
    for row in rows:
        inci = by_number.get(row[1], "") if len(row) > 7 else ""
        for name in row[7:] if inci else ():
            if _is_a_name(name) and _same_salt(name, inci):
                found.setdefault(loose_key(name), set()).add(inci)
    yield from ((key, min(names)) for key, names in found.items() if key not in taken and len(names) == 1)


# What no name of a substance alone is: strengths, grades, codes of registers, marks of brands.
_NO_NAME: Final = late_pattern(
    r"solution|mixture|combination|%|\[|;|\bmg\b|standard|grade|reagent|\busp\b|\bfcc\b|purum|puriss|assay|inchi|_|\||"
    r"\bn\.?f\b|powder|water|impurity|component|certified|anhydrous|hydrate|labeled|\bd\d|ester of|"
    r"\bep\b|\bjan\b|\binn\b|"
    r"^(?:usaf|ratio|apo|novo|nci|wln|caswell|fema|tox21|hsdb|epa|rtecs|unii|ccris|ai3|mls|smr|nsc)\b|reference|food "
)
_IONS: Final = (
    "hydrobromid", "hydrochlor", "chlorid", "bromid", "iodid", "sulf", "phosphat", "acetat", "nitrat", "maleat",
    "citrat", "tartrat", "sodi", "potassi", "calci", "magnesi", "ammoni", "zinc", "lithi",
    "alumin", "copper", "cupri", "silver",
)  # fmt: skip


def _is_a_name(name: str) -> bool:
    letters = sum(letter.isalpha() for letter in name)
    return (
        6 <= len(name) <= _LONGEST_SYNONYM
        and name.isascii()
        and letters >= 5
        and letters * 2 > len(name)
        and re.fullmatch(r"[0-9a-z]{10}|[a-z]{0,10}[ -]?\d[\d-]*[a-z]?", name) is None
        and _NO_NAME.search(name) is None
    )


def _same_salt(name: str, inci: str) -> bool:
    """Say whether a synonym names no ion that the INCI name does not: a base and its salt are two substances."""
    written, meant = loose_key(name), loose_key(inci)
    return all(ion in meant or (ion == "hydrochlor" and "hcl" in meant) for ion in _IONS if ion in written)


def _pubchem() -> Iterator[list[str]]:
    import chemicals

    folder = Path(chemicals.__file__).with_name("Identifiers")
    for size in ("small", "large"):
        text = (folder / f"chemical identifiers pubchem {size}.tsv").read_text(encoding="utf-8")
        yield from (line.split("\t") for line in text.splitlines())


def main() -> None:
    """Write the tables."""
    parser = argparse.ArgumentParser(prog="compile_names", description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("inventory", nargs="?", type=Path)
    parser.add_argument("--chemical-names", action="store_true")
    args = parser.parse_args()
    TABLES.mkdir(exist_ok=True)
    if args.inventory is not None:
        _write("inventory", inventory_text(read_inventory(args.inventory)))
    _write("cas-names", numbers_text(kept_inventory()))
    _write("other-names", others_text())
    _write("words", words_text())
    if args.chemical_names:
        _write("chemical-names", table_text(chemical_names(_pubchem()), CHEMICAL))


def _write(name: str, text: str) -> None:
    (TABLES / f"{name}.tsv").write_text(text, encoding="utf-8", newline="\n")
    sys.stdout.write(f"{name}: {text.count(chr(10))} lines\n")


if __name__ == "__main__":
    main()
