"""Turn the packs that ship into one file of plain values: ``python -m formula_vcs.law.compile_packs``.

Reading 500 rows of TOML with their units takes longer than a whole check, so it is done once, here, and kept in
`compiled.json` (2 ms to read, with or without cached bytecode).  A test fails where that file is not what the packs
say.  Conversion factors are worked out here too, from molecular formulas and atomic weights: nobody types one.
"""

from __future__ import annotations

import json
import tomllib
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

from formula_vcs.law import us_rows
from formula_vcs.law.duty_table import read_duties
from formula_vcs.law.identity import law_key
from formula_vcs.law.pack_rows import plain, row_data, rows
from formula_vcs.model.cas import cas_trouble
from formula_vcs.model.facts import unread
from formula_vcs.model.law_row import LawRow
from formula_vcs.model.product import AREAS
from formula_vcs.model.quantity import Quantity
from formula_vcs.toml.rules_file import read_rules
from formula_vcs.words.late_pattern import late_pattern

PACKS: Final = Path(__file__).with_name("packs")
TARGET: Final = Path(__file__).with_name("compiled.json")
LAW: Final = (
    "eu-annex-ii", "eu-annex-iii", "eu-annex-iv", "eu-annex-v", "eu-annex-vi", "eu-allergens", "us", *us_rows.TITLES,
    "iso-11609", "cosmos-4", "nop",
)  # fmt: skip
_ELEMENT: Final = late_pattern(r"([A-Z][a-z]?)(\d*)")


def parsed(name: str) -> dict[str, Any]:
    """Read the data of one file of packs/."""
    return tomllib.loads((PACKS / f"{name}.toml").read_text(encoding="utf-8"), parse_float=Decimal)


def pack(name: str) -> tuple[dict[str, str], list[LawRow]]:
    """Read one pack: its header and its rows.

    :raises ValueError: a row cannot be read; the message names them all.
    """
    if name in us_rows.TITLES:
        return {"title": us_rows.TITLES[name], "market": "US", "text": us_rows.TEXT}, us_rows.rows_of(name)
    facts = read_rules(parsed(name))
    bad = [f"{name}: {'/'.join(path)}: {value.message}" for path, value in unread(facts)]
    if bad:
        raise ValueError("\n".join(bad))
    header = {key: str(facts.get((key,), "")) for key in ("title", "market", "text")}
    return header, list(rows(facts, name))


def atoms(formula: str) -> dict[str, int]:
    """Count the atoms of a molecular formula without brackets.

    >>> atoms("C7H5NaO2")
    {'C': 7, 'H': 5, 'Na': 1, 'O': 2}
    """
    counts: dict[str, int] = {}
    for element, count in _ELEMENT.findall(formula):
        counts[element] = counts.get(element, 0) + int(count or 1)
    return counts


def factor(substance: str, basis: str, moles: int, weights: dict[str, tuple[Decimal, Decimal]]) -> tuple[str, str]:
    """The mass of a basis in one mass of a substance, and the doubt that the atomic weights leave in it.

    The doubt is the sum, over the elements, of what each one's uncertainty can move the factor by: the worst case,
    not a standard deviation.
    """
    whole, part = atoms(substance), atoms(basis)
    mass = sum((Fraction(weights[e][0]) * n for e, n in whole.items()), Fraction(0))
    share = sum((Fraction(weights[e][0]) * n for e, n in part.items()), Fraction(0)) * moles
    doubt = sum(
        (
            abs(Fraction(part.get(e, 0) * moles) / mass - share * whole.get(e, 0) / mass**2) * Fraction(weights[e][1])
            for e in {*whole, *part}
        ),
        Fraction(0),
    )
    return _nine(share / mass), _nine(doubt)


def _nine(value: Fraction) -> str:
    return f"{float(value):.9f}".rstrip("0").rstrip(".")


def substances() -> dict[str, tuple[str, tuple[str, ...], dict[str, tuple[str, str]]]]:
    """The registry: folded INCI name to its spelling, its CAS numbers and its factor for each basis."""
    data = parsed("substances")
    weights = {name: (Decimal(w), Decimal(u)) for name, (w, u) in data["atom"].items()}
    bases: dict[str, str] = data["basis"]
    found: dict[str, tuple[str, tuple[str, ...], dict[str, tuple[str, str]]]] = {}
    for row in data["substance"]:
        for number in row.get("cas", ()):
            if cas_trouble(number):
                raise ValueError(f"substances: {row['inci']}: {number} {cas_trouble(number)}")
        key = law_key(row["inci"])
        if key in found:
            raise ValueError(f"substances: '{row['inci']}' stands twice")
        gives = {
            basis: factor(row["formula"], bases[basis], moles, weights) for basis, moles in row.get("gives", {}).items()
        }
        found[key] = (row["inci"], tuple(row.get("cas", ())), gives)
    return found


Type = tuple[str, tuple[str, ...], str, dict[str, tuple[str, ...]], tuple[str, ...]]


def product_types() -> list[Type]:
    """The types: name, parents, contact, the other dimensions, other words for it.

    :raises ValueError: a parent is not known, a name stands twice, or a type has no contact.
    """
    found = []
    seen: set[str] = set()
    for row in parsed("product-types")["type"]:
        strange = set(row) - {"name", "is", "contact", "area", "form", "age", "user", "also"}
        again = seen.intersection((row["name"], *row.get("also", ())))
        foreign = [parent for parent in row.get("is", ()) if parent not in seen]
        if strange or again or foreign:
            raise ValueError(f"product-types: '{row['name']}': {sorted(strange) or sorted(again) or foreign}")
        seen.update((row["name"], *row.get("also", ())))
        dimensions = {key: tuple(row[key]) for key in ("area", "form", "age", "user") if key in row}
        found.append(
            (row["name"], tuple(row.get("is", ())), row.get("contact", ""), dimensions, tuple(row.get("also", ())))
        )
    return found


def finer_types() -> dict[str, dict[str, str]]:
    """The types that a type becomes on an area of the body: ``{"skin product": {"face": "face cream"}}``.

    :raises ValueError: a type or an area is not known.
    """
    named = {row["name"] for row in parsed("product-types")["type"]}
    finer: dict[str, dict[str, str]] = parsed("product-types")["on"]
    for name, on in finer.items():
        strange = {name, *on.values()} - named or set(on) - set(AREAS)
        if strange:
            raise ValueError(f"product-types: on '{name}': {sorted(strange)}")
    return finer


def duties() -> dict[str, Any]:
    """The table of duties: its header, who makes which evidence, what schemes say, and the rows.

    :raises ValueError: a row cannot be read; the message names them all.
    """
    facts = read_duties(parsed("duties"))
    bad = [f"duties: {'/'.join(path)}: {value.message}" for path, value in unread(facts)]
    if bad:
        raise ValueError("\n".join(bad))
    found: dict[str, Any] = {name: facts[name,] for name in ("title", "scale", "note")}
    found |= {"kind": {}, "scheme": {}, "row": {}}
    for path, value in facts.items():
        if path[0] in found and len(path) > 2 and path[2] != "checked":
            row = found[path[0]].setdefault(path[1], {})
            if isinstance(value, Quantity):
                row |= {"above": str(value.base), "said": str(value)}
            elif path[2] == "of":
                row.setdefault("of", []).append(path[3])
            else:
                row[path[2]] = value
    return found | {"row": list(found["row"].values())}


def united_states() -> dict[str, Any]:
    """What else the law of the United States needs: names on the label, monographs, actives of cosmetics too."""
    monographs = {name: reading | {"where": plain(reading["where"])} for name, reading in us_rows.drugs().items()}
    return {"label": us_rows.label_names(), "drugs": monographs, "cosmetic_too": us_rows.cosmetic_too()}


def compiled() -> str:
    """The text of `compiled.json`: one row a line, so that a change of a pack is read as one here too."""
    lines = ['{"packs": {']
    for position, name in enumerate(LAW):
        header, found = pack(name)
        lines.append(f'{_json(name)}: {_json(header)[:-1]}, "rows": [')
        lines.append(",\n".join(_json(row_data(row)) for row in found))
        lines.append("]}" + ("," if position + 1 < len(LAW) else ""))
    lines.append('}, "substances": {')
    lines.append(",\n".join(f"{_json(key)}: {_json(value)}" for key, value in substances().items()))
    lines.append('}, "types": [')
    lines.append(",\n".join(map(_json, product_types())))
    lines.append(f'], "on": {_json(finer_types())}, "never_spray": {_json(parsed("product-types")["never_spray"])}')
    lines.append(f', "us": {_json(united_states())}')
    table = duties()
    lines.append(f', "duties": {_json({key: value for key, value in table.items() if key != "row"})[:-1]}, "row": [')
    lines.append(",\n".join(map(_json, table["row"])))
    lines.append("]}}")
    return "\n".join(lines) + "\n"


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False)


def main() -> None:
    """Write the file."""
    TARGET.write_text(compiled(), encoding="utf-8")


if __name__ == "__main__":
    main()
