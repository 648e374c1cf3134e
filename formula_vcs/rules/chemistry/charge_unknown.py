"""The charge of what acts by its charge is known."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.figures.substance_parts import WET, Part, parts_of
from formula_vcs.model.finding import Finding
from formula_vcs.model.pair import class_tag
from formula_vcs.model.substance_classes import CHARGES
from formula_vcs.rules.chemistry.incompatible import place
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule

_ACTS: Final = (
    "surfactant", "emulsifier", "co-emulsifier", "solubiliser", "conditioner", "conditioning agent", "antistatic",
    "thickener", "film former", "suspending agent", "polymer",
)  # fmt: skip


_UNCHARGED: Final = frozenset({"emollient", "wax", "oil", "butter", "structurant", "skin conditioner", "humectant"})


class ChargeUnknown(Rule):
    """The charge of what acts as a surfactant, emulsifier, thickener or conditioner is known.

    Why: what does not go together is judged by charge.  A polymer that no table has is not judged, and a reader who
    sees no finding would take it for harmless.  Said only where something charged is in the product that it could meet.

    So:
        class = ["anionic polymer"]
    """

    id = "charge-unknown"
    severity = "note"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Name the materials of which no substance has a charge."""
        parts = parts_of(case.sums)
        if parts.water < WET or not parts.tags & {class_tag("anionic"), class_tag("cationic")}:
            return
        names: dict[str, Part] = {}
        charged: set[str] = set()
        for part in parts.all:
            tags = part.grain.tags
            if any(class_tag(charge) in tags for charge in CHARGES):
                charged.add(part.grain.material)
            elif any(f"function:{name}" in tags for name in _ACTS):
                names.setdefault(part.grain.material, part)
        names = {material: part for material, part in names.items() if material not in charged}
        stated = [name for name in names if not self._uncharged(case, name)]
        if stated:
            listed = ", ".join(f"'{name}'" for name in stated)
            words = (
                f"the charge of {listed} is not known, so what does not go with it is not judged; its file can state "
                'it: class = ["non-ionic"]'
            )
            yield self.say(case, words, place(case, names[stated[0]]), subject="charge")

    @staticmethod
    def _uncharged(case: Case, name: str) -> bool:
        """Say whether a material states its classes itself, or is oil and wax that carries no charge."""
        material = case.formula.ingredients.get(name)
        if material is None or any(path[0] == "class" for path in material.facts):
            return True
        return bool(
            {"emollient", "wax", "oil", "butter", "structurant", "skin conditioner", "humectant"} & material.called
        )
