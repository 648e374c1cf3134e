"""The pH that a substance is tied to."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.law.compliance import in_force
from formula_vcs.model.finding import Finding
from formula_vcs.model.law_row import LawRow
from formula_vcs.model.quantity import Range
from formula_vcs.rules.law.pack_rule import PackRule
from formula_vcs.rules.rule import Case
from formula_vcs.words.numbers import shown


class PhWindow(PackRule):
    """The spec keeps the pH where the law wants it for a substance.

    Why: an alkali that adjusts the pH is allowed up to a pH, not up to an amount.  A recipe that states no pH in
    its spec is warned about: the limit cannot be judged.
    """

    id = "ph-window"

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the spec's pH with every window."""
        found = case.finished
        if found is None:
            return
        for hit in in_force(found, case.day):
            row = hit.row
            if row.ph is None or row.kind != "ph":
                continue
            names = " + ".join(found.spelled(key) for key in hit.keys) or f"{found.a_product}"
            spec = case.recipe.spec.get("pH")
            if spec is None:
                words = f"{names}: the pH must be {window(row)} ({row.citation}), and the spec states no pH"
                yield self.of_row(case, row, words, ("spec",), "/".join(hit.keys), severity="warn")
            elif not _inside(spec, row):
                words = f"{names}: the spec lets the pH be {spec}; it must be {window(row)} ({row.citation})"
                yield self.of_row(case, row, words, ("spec", "pH"), "/".join(hit.keys))


def window(row: LawRow) -> str:
    """Write the window of a row: "below 11", "7 to 9.5"."""
    low, high, strict = row.ph or (None, None, False)
    if low is not None and high is not None:
        return f"{shown(low, 0, 2)} to {shown(high, 0, 2)}"
    return f"{'below' if strict else 'at most'} {shown(high, 0, 2)}" if high is not None else "any"


def _inside(spec: Range, row: LawRow) -> bool:
    low, high, strict = row.ph or (None, None, False)
    if high is not None and (spec.high is None or spec.high.base > high or (strict and spec.high.base == high)):
        return False
    return low is None or (spec.low is not None and spec.low.base >= low)
