"""What an ingredient list of the United States calls a substance.

21 CFR 701.3(c): the name that FDA gave, else the dictionary's, else a pharmacopoeia's; a certified colour by its name
without "FD&C" or "D&C" and without "No." (from memory).  There is no "(nano)" there.  The names are data:
`us/readings.toml` and the table of colour additives.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.law.compliance import Compliance
from formula_vcs.law.identity import identify
from formula_vcs.law.packs_in_force import Law, us_label_name
from formula_vcs.model.ingredient import inci_key
from formula_vcs.model.law_row import LawRow

COLOURS: Final = "us-colours"
_NANO: Final = " (nano)"
_INDEX: Final = "ci "
_CERTIFIED: Final = ("d&c ", "fd&c ", "ext. d&c ")


def listed_colours(law: Law, key: str, spelled: str, cas: str) -> list[LawRow]:
    """Give the colour additives that a substance is: several where its number is that of several.

    Its own name ("Red 7"), or else a CAS number, tells those apart.
    """
    numbers, own = cas.split("; "), inci_key(spelled)
    found = {row.id: row for row in law.about((key, own), tuple(filter(None, numbers)))}
    rows = [row for row in found.values() if row.pack == COLOURS and row.kind == "allowed"]
    named = [row for row in rows if own in row.names and not own.startswith(_INDEX)]
    return named or [row for row in rows if not set(numbers).isdisjoint(row.cas)] or rows


def us_name(law: Law, key: str, cas: str, spelled: str) -> str:
    """Give the name that the list has for a substance; both, parted by "or", where nobody can tell which it is."""
    bare = spelled[: -len(_NANO)] if spelled.casefold().endswith(_NANO) else spelled
    key = key.removesuffix(_NANO)
    if not key.startswith((_INDEX, *_CERTIFIED)):
        known = identify(bare, cas)
        other = known.inci if known.how == "other name" and known.kind != "us-name" else ""
        return us_label_name(key) or other or bare
    printed = list(dict.fromkeys(row.printed for row in listed_colours(law, key, bare, cas)))
    lake = " Lake" if bare.casefold().endswith(" lake") else ""
    return " or ".join(f"{name}{lake}" for name in printed) or bare


def undecided(found: Compliance) -> Iterator[str]:
    """Name the colours whose number is that of several listed ones, so that the list cannot name them."""
    for key, held in found.totals.items():
        names = dict.fromkeys(row.printed for row in listed_colours(found.law, key, held.spelled, held.cas))
        if held.pct > 0 and key.startswith(_INDEX) and len(names) > 1:
            yield f"{held.spelled} is {' or '.join(names)}: its CAS number is not stated"
