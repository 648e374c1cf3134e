"""What is normally repeated when a formula changes: the rows of the pack `duties.toml` as values."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from formula_vcs.model.values import dataclass

# The classes of change that a row can be about, and what its `above` is a size of.
CLASSES: Final = {
    "amount": "share", "sum": "share", "adjuster": "share", "adjuster-kind": "", "added": "", "removed": "",
    "grade": "", "material": "", "supplier": "", "origin": "", "pH": "", "spec": "", "water-activity": "number",
    "alcohol": "", "label": "", "allergens": "", "claims": "", "name": "", "product": "", "markets": "", "pack": "",
    "shear": "", "mixer": "", "mixer-kind": "", "range": "share", "temperature": "temperature",
    "order": "", "step": "", "batch": "number",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class DutyRule:
    """One row: above a size, a class of change outdates some kinds of evidence, and makes others to be decided on.

    ``above`` is a share (0.1 for 10 %), a factor, a difference in K or of water activity, as the class has it; ``said``
    is the same as written.  ``of`` are functions of the material; none: of any.
    """

    id: str
    when: str
    above: Fraction
    said: str
    of: frozenset[str]
    repeat: tuple[str, ...]
    decide: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class DutyWork:
    """Who makes a kind of evidence, in which words, and on what ground."""

    owner: str
    repeat: str
    decide: str
    source: str
