"""Each kind of edit on one side with each on the other: a clean merge is the one edit made after the other."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from typing import Any, Final

import pytest

from tests.git.helpers_merge import CREAM
from tests.merge.test_merge_file import merge

Edit = Callable[[str], str]


def put(old: str, new: str) -> Edit:
    """Give the edit that writes one text for another, once; what is gone is left alone."""
    return lambda text: text.replace(old, new, 1)


def amount(name: str, value: str) -> Edit:
    return lambda text: re.sub(rf"(?m)^{name}( *)= [\d.]+", rf"{name}\1= {value}", text)


def comment(name: str, words: str) -> Edit:
    return lambda text: re.sub(rf"(?m)^({name} *= [^#\n]*?) *(#.*)?$", rf"\1   # {words}", text)


def move(name: str, phase: str) -> Edit:
    def edit(text: str) -> str:
        found = re.search(rf"(?m)^(#.*\n)?{name}(-organic)? *=.*\n", text)
        assert found is not None
        return put(f"[phase.{phase}.charge]\n", f"[phase.{phase}.charge]\n{found[0]}")(text.replace(found[0], ""))

    return edit


def field(step: str, name: str, value: str) -> Edit:
    return lambda text: re.sub(rf'(?m)(^id *= "{step}"\n(?:.+\n)*?{name} *= )".*"$', rf'\1"{value}"', text)


EDITS: Final[dict[str, Edit]] = {
    "raise": amount("oil", "7.00"),
    "raise more": amount("oil", "8.00"),
    "move": move("oil", "C"),
    "move elsewhere": move("oil", "A"),
    "take out": lambda text: re.sub(r"(?m)^# pressed.*\noil *=.*\n", "", text),
    "another grade": lambda text: re.sub(r"(?m)^oil( *=)", r"oil-organic\1", text),
    "say more of the oil": put("# pressed cold", "# pressed cold, in May"),
    "say why the wax": comment("wax", "firmer"),
    "say what the wax": comment("wax", "of bees"),
    "wax": amount("wax", "2.50"),
    "move the wax": move("wax", "A"),
    "add": put("[phase.B.charge]\n", "[phase.B.charge]\nsorbate = 0.10\n"),
    "add more": put("[phase.B.charge]\n", "[phase.B.charge]\nsorbate = 0.20\n"),
    "add elsewhere": put("scent = 0.10\n", "scent = 0.10\nsorbate = 0.10\n"),
    "more acid": put("pct = 0.20", "pct = 0.25"),
    "acid at most": put("at_most = 0.40", "at_most = 0.50"),
    "longer": field("join", "time", "6 min"),
    "shorter": field("join", "time", "4 min"),
    "hotter": field("join", "temp", "72 to 76 degC"),
    "no join": lambda text: re.sub(r'\[\[step\]\]\nid    = "join"\n(.+\n)+\n', "", text),
    "claim": put('claims  = ["', 'claims  = ["cosmos-natural-4", "'),
    "other claim": put('claims  = ["', 'claims  = ["cosmos-organic-4", "'),
    "call it balm": put('"Cream"', '"Balm"'),
    "call it butter": put('"Cream"', '"Butter"'),
    "narrow the pH": put('pH = "4.8', 'pH = "4.9'),
    "add to the spec": lambda text: f'{text}density = "0.9 to 1.1 g/mL"\n',
}
# What only a person can settle: of each group, any two.
CLASHES: Final = (
    ("raise", "raise more", "take out"),
    ("raise", "another grade"),
    ("raise more", "another grade"),
    ("take out", "another grade"),
    ("move", "move elsewhere", "take out"),
    ("add", "add more", "add elsewhere"),
    ("longer", "shorter", "no join"),
    ("hotter", "no join"),
    ("call it balm", "call it butter"),
    ("take out", "say more of the oil"),  # taken out, what was said of it would be lost
)


def clashes(one: str, other: str) -> bool:
    return any(one in group and other in group for group in CLASHES)


def meant(text: str) -> dict[str, Any]:
    found = tomllib.loads(text)
    found["claims"] = sorted(found["claims"])
    found["phase"] = {name: phase for name, phase in found["phase"].items() if phase["charge"]}
    return found


def comments(text: str) -> list[str]:
    """Give the comments; two behind one value are two."""
    lines = (line[line.index("#") :] for line in text.split("\n") if "#" in line)
    return sorted(part.strip() for line in lines for part in re.split(r"  (?=#)", line))


@pytest.mark.parametrize("one", EDITS)
def test_each_edit_with_each_other(one: str) -> None:
    ours = EDITS[one](CREAM)
    for other, edit in EDITS.items():
        if other == one:
            continue
        theirs = edit(CREAM)
        found = merge(ours, theirs)
        said = f"{one} and {other}: {found.clashes}\n{found.text}"

        assert clashes(one, other) == bool(found.clashes), said
        if not found.clashes:
            assert meant(edit(ours)) == meant(found.text), said
            kept = (*comments(ours), *comments(theirs))
            both = {one, other} == {"say why the wax", "say what the wax"}
            assert comments(found.text) == (sorted({*kept}) if both else comments(edit(ours))), said
