"""Bring a new consolidation of Annexes II to VI in: ``python -m formula_vcs.law.bring_in DIR``.

DIR holds the published exports as CSV (UTF-8, first line the names of the columns; more columns may be there):

* ``annex-ii.csv``: one line a name or number of an entry: ``entry``, ``status`` (active, or what became of it),
  ``name_in_law``, ``use_scope`` (all, hair dye, fragrance ...), ``condition``, ``member``, ``cas``, ``kind`` (law,
  law-inci, echa-member, cosing-identified), ``place_from``, ``sale_from``, ``source``;
* ``annex-iii.csv``, ``annex-v.csv``, ``annex-vi.csv``: one line a tier: ``entry``, ``tier``, ``status``, ``name``,
  ``product_type``, ``max_concentration``, ``max_value``, ``max_unit``, ``max_basis``, ``other``, ``wording``,
  ``place_from``, ``sale_from``, ``source``; Annex III also ``max_in_column``, ``label_name``;
* ``annex-iv.csv``: one line an entry: ``entry``, ``status``, ``name``, ``ci``, ``inci``, ``cas``, ``colour``,
  ``product_type``, ``product_class``, ``max_concentration``, ``max_value``, ``max_unit``, ``other``, ``wording``,
  ``source``;
* ``annex-iii-substances.csv`` and ``annex-iv-v-vi-substances.csv``: one line a name: ``entry``, ``name``, ``cas``,
  ``kind`` (the latter also ``annex``);
* ``inci-inventory.csv`` or ``.csv.gz``: ``inci``, ``cas``: which INCI name has which numbers.

It writes the project's own tables, ``formula_vcs/law/annexes/*.csv``, in the order of the law, one line an entry or a
tier, and one a name; says what became of each annex; and compiles them.  Nothing is written where a line cannot be
read.  What the words of the law mean for a recipe stands in ``readings.toml`` and not here: words that it does not
know yet are listed, and until somebody reads them they ask instead of judging.
"""

from __future__ import annotations

import csv
import gzip
import io
import re
import sys
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Final

from formula_vcs.law import compile_annexes
from formula_vcs.model.cas import cas_trouble
from formula_vcs.model.ingredient import inci_key
from formula_vcs.model.values import dataclass
from formula_vcs.words.late_pattern import late_pattern

TABLES: Final = Path(__file__).with_name("annexes")
Line = dict[str, str]

_TIER: Final = (
    "entry", "tier", "status", "name", "product_type", "max_concentration", "max_value", "max_unit", "max_basis",
    "other", "wording", "place_from", "sale_from", "source",
)  # fmt: skip
COLUMNS: Final[dict[str, tuple[str, ...]]] = {
    "annex-ii": (
        "entry", "status", "name_in_law", "use_scope", "condition", "member", "cas", "kind", "place_from",
        "sale_from", "source",
    ),
    "annex-iii": (*_TIER, "max_in_column", "label_name"),
    "annex-iii-substances": ("entry", "name", "cas", "kind"),
    "annex-iv": (
        "entry", "status", "name", "ci", "inci", "cas", "colour", "product_type", "product_class",
        "max_concentration", "max_value", "max_unit", "other", "wording", "source",
    ),
    "annex-v": _TIER,
    "annex-vi": _TIER,
    "annex-iv-v-vi-substances": ("annex", "entry", "name", "cas", "kind"),
    "inci-inventory": ("inci", "cas"),
}  # fmt: skip
# How sure it is that a name or a number is the entry's; the first two are the law.
GRADES: Final = ("law", "inci", "identified", "member", "number")
NAMES: Final = ("entry", "name", "cas", "grade")
_ENTRY: Final = late_pattern(r"\d+[a-z]?")


class CannotBringIn(Exception):
    """The exports are not what they should be; one line a fault, with its file and line."""


@dataclass(frozen=True)
class Export:
    """One file of the exports: its lines, with the numbers that they have in the file."""

    name: str
    lines: tuple[tuple[int, Line], ...]

    def active(self) -> Iterator[Line]:
        """The lines of what is in force."""
        return (line for _, line in self.lines if line.get("status", "active") == "active")


def read(folder: Path) -> dict[str, Export]:
    """Read all exports of a folder.

    :raises CannotBringIn: a file or a column is missing, or a line has a number that is none; all faults in one.
    """
    found: dict[str, Export] = {}
    faults: list[str] = []
    for name, columns in COLUMNS.items():
        text = _text(folder, name)
        if text is None:
            faults.append(f"{folder / name}.csv: there is no such file")
            continue
        reader = csv.DictReader(io.StringIO(text))
        lacking = [column for column in columns if column not in (reader.fieldnames or ())]
        if lacking:
            faults.append(f"{name}.csv:1: no column {', '.join(lacking)}")
            continue
        lines = tuple(
            (number, {c: " ".join((line[c] or "").split()) for c in columns}) for number, line in _each(reader)
        )
        faults += [f"{name}.csv:{number}: {fault}" for number, line in lines for fault in _faults(line)]
        found[name] = Export(name, lines)
    if faults:
        raise CannotBringIn("\n".join(faults))
    return found


def _text(folder: Path, name: str) -> str | None:
    plain, packed = folder / f"{name}.csv", folder / f"{name}.csv.gz"
    if plain.is_file():
        return plain.read_text(encoding="utf-8-sig")
    return gzip.decompress(packed.read_bytes()).decode("utf-8-sig") if packed.is_file() else None


def _each(reader: csv.DictReader[str]) -> Iterator[tuple[int, dict[str, str | None]]]:
    for line in reader:
        yield reader.line_num, dict(line)


def _faults(line: Line) -> Iterator[str]:
    if "entry" in line and not _ENTRY.fullmatch(line["entry"]):
        yield f"'{line['entry']}' is no entry"
    for number in _numbers(line["cas"]) if "cas" in line else ():
        if cas_trouble(number):
            yield f"CAS '{number}' {cas_trouble(number)}"
    if line.get("max_value") and not re.fullmatch(r"\d+(\.\d+)?", line["max_value"]):
        yield f"max_value '{line['max_value']}' is no number"


def _numbers(cell: str) -> list[str]:
    return [number.strip() for number in cell.split(";") if number.strip()]


def order(entry: str) -> tuple[int, str]:
    """What entries are sorted by: 2, 2a, 10."""
    digits = re.match(r"\d+", entry)
    return (int(digits[0]) if digits else 0, entry)


def tables(exports: dict[str, Export]) -> dict[str, str]:
    """The texts of the project's tables by file name."""
    inventory = Inventory(exports["inci-inventory"])
    found = {
        "ii.csv": _prohibited(exports["annex-ii"]),
        "ii-names.csv": _prohibited_names(exports["annex-ii"], inventory),
    }
    for annex in ("iii", "v", "vi"):
        found[f"{annex}.csv"] = _tiers(exports[f"annex-{annex}"])
    found["iv.csv"] = _colours(exports["annex-iv"])
    found["iii-names.csv"] = _names(exports["annex-iii-substances"], exports["annex-iii"], inventory)
    shared = exports["annex-iv-v-vi-substances"]
    for annex in ("iv", "v", "vi"):
        own = Export(shared.name, tuple((n, line) for n, line in shared.lines if line["annex"] == annex.upper()))
        found[f"{annex}-names.csv"] = _names(own, exports[f"annex-{annex}"], inventory)
    return found


def _csv(columns: Sequence[str], lines: Iterable[Sequence[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(lines)
    return out.getvalue()


def _checked(source: str) -> str:
    """Grade the reading of a line: from the Official Journal's text, or from the Commission's export of it."""
    return "text" if source.startswith("S1") else "data export"


def _prohibited(export: Export) -> str:
    columns = ("entry", "name", "use", "condition", "placed", "sold", "checked")
    rows: dict[str, list[str]] = {}
    for line in export.active():
        kept = rows.setdefault(
            line["entry"],
            [line["entry"], line["name_in_law"], line["use_scope"], line["condition"], line["place_from"],
             line["sale_from"], "data export"],
        )  # fmt: skip
        if line["kind"] == "law" and _checked(line["source"]) == "text":
            kept[6] = "text"
    return _csv(columns, sorted(rows.values(), key=lambda row: order(row[0])))


class Inventory:
    """Which INCI name has which CAS numbers, and which number is one name's alone."""

    def __init__(self, export: Export) -> None:
        """Take the export."""
        self._numbers = {inci_key(line["inci"]): tuple(_numbers(line["cas"])) for _, line in export.lines}
        self._spelled = {inci_key(line["inci"]): line["inci"] for _, line in export.lines}
        self._by_number: dict[str, list[str]] = defaultdict(list)
        for key, numbers in self._numbers.items():
            for number in numbers:
                self._by_number[number].append(key)

    def numbers(self, name: str) -> tuple[str, ...]:
        """The numbers of an INCI name."""
        return self._numbers.get(inci_key(name), ())

    def named(self, number: str) -> list[tuple[str, bool]]:
        """The INCI names that have a number, and whether one has it for itself alone, as its only number."""
        keys = self._by_number.get(number, [])
        return [(self._spelled[key], len(keys) == 1 and len(self._numbers[key]) == 1) for key in keys]


def _prohibited_names(export: Export, inventory: Inventory) -> str:
    by_entry: dict[str, list[Line]] = defaultdict(list)
    for line in export.active():
        by_entry[line["entry"]].append({"name": line["member"], **line})
    title = {entry: lines[0]["name_in_law"] for entry, lines in by_entry.items()}
    return _graded(by_entry, title, inventory)


def _names(names: Export, entries: Export, inventory: Inventory) -> str:
    title = {line["entry"]: line["name"] for line in entries.active()}
    by_entry: dict[str, list[Line]] = defaultdict(list)
    for line in names.active():
        if line["entry"] in title:
            by_entry[line["entry"]].append(line)
    return _graded(by_entry, title, inventory)


_OF_LAW: Final = {"law": "law", "law-inci": "inci", "cosing-cas": "law"}


def _graded(by_entry: dict[str, list[Line]], title: dict[str, str], inventory: Inventory) -> str:
    rows: dict[tuple[str, str, str], str] = {}
    for entry, lines in by_entry.items():
        law = {number for line in lines if line["kind"] in _OF_LAW for number in _numbers(line["cas"])}
        for line in lines:
            grade = _OF_LAW.get(line["kind"]) or _tie(line, law, title[entry], inventory)
            for number in _numbers(line["cas"]) or [""]:
                if line["name"] or number:
                    _keep(rows, (entry, line["name"], number), grade)
        known = {inci_key(name) for (of, name, _) in rows if of == entry}
        for number in sorted(law):
            for name, alone in inventory.named(number):
                if inci_key(name) not in known:
                    sure = alone or _spoken(name, title[entry])
                    _keep(rows, (entry, name, ""), "inci" if sure else "number")
    ordered = sorted(rows.items(), key=lambda item: (order(item[0][0]), GRADES.index(item[1]), item[0]))
    return _csv(NAMES, [(*key, grade) for key, grade in ordered])


def _keep(rows: dict[tuple[str, str, str], str], key: tuple[str, str, str], grade: str) -> None:
    rows[key] = min(rows.get(key, grade), grade, key=GRADES.index)


def _tie(line: Line, law: set[str], title: str, inventory: Inventory) -> str:
    """Grade a name that only an authority ties to an entry: the law's where its own number or words say so too."""
    if line["kind"] == "cosing-identified":
        sure = law.intersection(inventory.numbers(line["name"])) or _spoken(line["name"], title)
        return "inci" if sure else "identified"
    return "member"


def _spoken(name: str, title: str) -> bool:
    """Say whether the entry's own words are just this name, or give it among others."""
    parts = re.split(r"[;()\[\]]| and its ", title)
    return inci_key(name) in {inci_key(part) for part in (title, *parts)}


def _tiers(export: Export) -> str:
    columns = (
        "entry", "tier", "name", "product", "max", "value", "unit", "basis", "column", "other", "wording", "label",
        "placed", "sold", "checked",
    )  # fmt: skip
    rows = [
        (
            line["entry"], line["tier"], line["name"], line["product_type"], line["max_concentration"],
            line["max_value"], line["max_unit"], line["max_basis"], line.get("max_in_column", ""), line["other"],
            line["wording"], line.get("label_name", ""), line["place_from"], line["sale_from"],
            _checked(line["source"]),
        )
        for line in export.active()
    ]  # fmt: skip
    return _csv(columns, sorted(rows, key=lambda row: order(row[0])))


def _colours(export: Export) -> str:
    columns = ("entry", "name", "ci", "inci", "colour", "product", "class", "max", "value", "unit", "other", "wording",
               "checked")  # fmt: skip
    rows = [
        (
            line["entry"], line["name"], line["ci"], line["inci"], line["colour"], line["product_type"],
            line["product_class"], line["max_concentration"], line["max_value"], line["max_unit"], line["other"],
            line["wording"], _checked(line["source"]),
        )
        for line in export.active()
    ]  # fmt: skip
    return _csv(columns, sorted(rows, key=lambda row: order(row[0])))


def changed(old: str, new: str) -> Counter[str]:
    """Count what a table gained, lost and changed, by entry."""
    before, after = _by_entry(old), _by_entry(new)
    return Counter(
        "new" if entry not in before else "gone" if entry not in after else "changed"
        for entry in {*before, *after}
        if before.get(entry) != after.get(entry)
    )


def _by_entry(text: str) -> dict[str, list[tuple[str, ...]]]:
    found: dict[str, list[tuple[str, ...]]] = defaultdict(list)
    for row in list(csv.reader(io.StringIO(text)))[1:]:
        found[row[0]].append(tuple(row))
    return found


def main(arguments: list[str], target: Path = TABLES) -> int:
    """Read the folder that is named, write and compile the tables; 0, or 2 where it cannot be read."""
    if len(arguments) != 1:
        sys.stderr.write("python -m formula_vcs.law.bring_in DIR\n")
        return 2
    try:
        made = tables(read(Path(arguments[0])))
    except CannotBringIn as trouble:
        sys.stderr.write(f"{trouble}\n")
        return 2
    for name, text in made.items():
        file = target / name
        turned = changed(file.read_text("utf-8") if file.is_file() else "", text)
        said = ", ".join(f"{turned[key]} {key}" for key in ("new", "gone", "changed") if turned[key])
        sys.stdout.write(f"{name}: {len(_by_entry(text))} entries; {said or 'as before'}\n")
        file.write_text(text, encoding="utf-8")
    if target == TABLES:
        compile_annexes.main()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
