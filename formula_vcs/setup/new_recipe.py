"""A new recipe: a commented template of its form, with the materials on file that fit, or another recipe's text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from formula_vcs.law.packs_in_force import never_spray, product, product_names
from formula_vcs.model.ingredient import is_water
from formula_vcs.model.values import dataclass
from formula_vcs.toml.edit import spelled
from formula_vcs.toml.takers import ID, nearest
from formula_vcs.workspace.snapshot import Snapshot

WIDTH: Final = 44
_MOST: Final = 3
# form: phases, each with its title and the functions that its charges mostly have.  Common practice, no source.
_PHASES: Final[Mapping[str, Sequence[tuple[str, str, Sequence[str]]]]] = {
    "emulsion": (
        ("A", "Water phase", ("humectant", "thickener", "chelating agent")),
        ("B", "Oil phase", ("emollient", "emulsifier", "structurant", "antioxidant")),
        ("C", "Cool-down", ("preservative", "fragrance", "pH adjuster")),
    ),
    "aqueous": (
        ("A", "Water phase", ("humectant", "thickener", "active")),
        ("B", "Finish", ("preservative", "fragrance", "pH adjuster")),
    ),
    "anhydrous": (
        ("A", "Waxes and butters", ("structurant", "emollient")),
        ("B", "Cool-down", ("antioxidant", "fragrance")),
    ),
    "surfactant": (
        ("A", "Water phase", ("humectant", "chelating agent")),
        ("B", "Surfactants", ("surfactant", "co-surfactant")),
        ("C", "Finish", ("preservative", "fragrance", "pH adjuster", "thickener")),
    ),
    "paste": (
        ("A", "Gel base", ("humectant", "thickener")),
        ("B", "Solids", ("abrasive", "filler")),
        ("C", "Finish", ("surfactant", "flavour", "sweetener", "active", "preservative")),
    ),
    "powder": (
        ("A", "Powders", ("filler", "absorbent", "colorant")),
        ("B", "Binder", ("emollient", "fragrance")),
    ),
    "bar": (
        ("A", "Base", ("surfactant", "structurant")),
        ("B", "Finish", ("emollient", "fragrance", "colorant")),
    ),
}  # fmt: skip
FORMS: Final = tuple(_PHASES)
_WATERY: Final = frozenset({"emulsion", "aqueous", "surfactant", "paste"})
# Words in a product's name, and the form that it mostly has; the first that fits.  Common practice, no source.
_WORDS: Final = (
    ("shampoo", "surfactant"), ("wash", "surfactant"), ("shower", "surfactant"), ("bath foam", "surfactant"),
    ("cleanser", "surfactant"), ("hand soap", "surfactant"), ("soap", "bar"), ("toothpaste", "paste"),
    ("scrub", "paste"), ("mask", "paste"), ("balm", "anhydrous"), ("stick", "anhydrous"), ("oil", "anhydrous"),
    ("ointment", "anhydrous"), ("bar", "bar"), ("powder", "powder"), ("toner", "aqueous"), ("gel", "aqueous"),
    ("rinse", "aqueous"), ("mouthwash", "aqueous"), ("tonic", "aqueous"), ("water", "aqueous"), ("serum", "aqueous"),
    ("cream", "emulsion"), ("lotion", "emulsion"), ("milk", "emulsion"), ("butter", "emulsion"),
    ("conditioner", "emulsion"), ("deodorant", "emulsion"), ("sun", "emulsion"),
)  # fmt: skip


@dataclass(frozen=True)
class NewFile:
    """A file to be written, and what to do next; ``old`` is the text that it goes on from, where there is one."""

    path: str
    text: str
    next: tuple[str, ...]
    old: str | None = None


class CannotBegin(ValueError):
    """What was asked for cannot be begun; the message says why, and what would do."""


def form_of(name: str) -> str:
    """Give the form that a kind of product mostly has.

    :raises CannotBegin: the product is not known, or may have several forms.
    """
    if product(name) is None:
        known = product_names()
        raise CannotBegin(f"--product: '{name}' is no product type{nearest(name, known) or ''}")
    words = name.casefold()
    form = next((form for word, form in _WORDS if word in words), None)
    if form is None:
        raise CannotBegin(f"--form: a '{name}' comes in several forms; say one of {', '.join(FORMS)}")
    return form


def template(title: str, kind: str, form: str, snapshot: Snapshot) -> str:
    """Give the text of a recipe to fill in: what is certain stands there, what is open as a comment."""
    lines = [
        "# Lines that begin with # are to be filled in or taken out; `git formula check` says what is missing.",
        "",
        f"title   = {spelled(title)}",
        f"product = {spelled(kind)}",
        f"form    = {spelled(form)}",
    ]
    if kind != "premix" and not never_spray(kind):
        lines.append(_noted('# spray   = "none"', "none, pump or aerosol"))
    if kind != "premix":
        lines += [
            _noted('# markets = ["EU"]', "where it is sold, if not as workspace.toml says"),
            _noted('# claims  = ["natural-origin at least 95 %"]', "what the pack promises; every check proves it"),
            _noted('# pack    = "50 mL"', "for the cost of a pack"),
        ]
    lines.append(_noted('# batch   = "100 kg"', "the size that costs are quoted for"))
    for name, heading, functions in _PHASES[form]:
        lines += ["", f"[phase.{name}]", f"title = {spelled(heading)}", "", f"[phase.{name}.charge]"]
        lines += _charges(name, form, functions, snapshot)
    return "\n".join([*lines, *_STEPS, *(() if kind == "premix" else _SPEC)]) + "\n"


def _noted(line: str, note: str) -> str:
    return f"{line.ljust(WIDTH)}  # {note}"


def _charges(phase: str, form: str, functions: Sequence[str], snapshot: Snapshot) -> list[str]:
    lines = []
    if phase == "A" and form in _WATERY:
        water = _water(snapshot)
        line = f'{water} = "to 100"' if water else '# water = "to 100"'
        lines.append(_noted(line, "the balance" if water else "the balance; no water is on file yet"))
    for function in functions:
        fitting = _fitting(snapshot, function)
        names = f"on file: {', '.join(fitting)}" if fitting else "none is on file"
        lines.append(_noted(f"# {fitting[0] if fitting else slugged(function)} = ", f"{function}; {names}"))
    return lines


def slugged(function: str) -> str:
    """Write a function as an id could be."""
    return function.lower().replace(" ", "-")


def _water(snapshot: Snapshot) -> str:
    for name in snapshot.ids("ingredients"):
        found = snapshot.ingredient(name)
        if found is not None and ID.fullmatch(name) and found.substances and all(map(is_water, found.substances)):
            return name
    return ""


def _fitting(snapshot: Snapshot, function: str) -> list[str]:
    materials = (snapshot.ingredient(name) for name in snapshot.ids("ingredients"))
    wanted = function.casefold()
    named = [one for one in materials if one is not None and ID.fullmatch(one.id)]
    fitting = [one.id for one in named if any(wanted == function.casefold() for function in one.functions)]
    return fitting[:_MOST]


_STEPS: Final = (
    "",
    "# Steps in their order; each charge is used once, and all ends in one vessel.",
    "# [[step]]",
    '# id    = "mix"',
    _noted('# into  = "main"', "a vessel; the name is yours"),
    _noted('# add   = ["A"]', 'a whole phase, or one charge of it: "A/water"'),
    _noted('# shear = "low"', "none, fold, low, medium, high"),
    '# time  = "10 min"',
    '# temp  = "20 to 25 degC"',
)
_SPEC: Final = (
    "",
    "# [spec]",
    '# pH        = "5.0 to 5.5"',
    '# viscosity = "18 to 28 Pa*s"',
)


def copied(text: str, title: str, history: str) -> str:
    """Give another recipe's text under a new title, its origin noted in the first line.

    :raises EditRefused: the text has errors, or no title.
    """
    from formula_vcs.toml.edit import set_value

    return f"# {history}\n{set_value(text, ('title',), title)}"
