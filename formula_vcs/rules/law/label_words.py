"""Words that the law wants on the label, and questions to a supplier that no percentage answers."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from formula_vcs.law.compliance import in_force
from formula_vcs.law.limit_use import amount, percent
from formula_vcs.model.finding import Finding
from formula_vcs.rules.law.pack_rule import PackRule
from formula_vcs.rules.rule import Case


class LabelWords(PackRule):
    """The label carries the warnings that a substance brings with it.

    Why: Article 19(1)(d) wants at least the precautions of the annexes on the label.  The wording here is
    paraphrased: take the exact words from the law before anything is printed.  Always a note.
    """

    id = "label-words"
    legal = False
    severity = "note"
    kind = "warning"
    lead = "the label has to say (in the words of the law)"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every warning whose substance is there in the amount that calls for it."""
        found = case.finished
        if found is None:
            return
        for hit in in_force(found, case.day):
            row = hit.row
            if row.kind != self.kind:
                continue
            used = amount(found, hit.keys, row.basis).used
            least = row.threshold(found.product.contact if found.product else "")
            if used > (least or Fraction(0)):
                names = " + ".join(found.spelled(key) for key in hit.keys)
                words = f"{names}, {percent(used)}: {self.lead}: {row.words} ({row.citation})"
                yield self.of_row(case, row, words, found.main_charge(hit.keys), "/".join(hit.keys))


class AskSupplier(LabelWords):
    """What the law wants of a material that no percentage shows: purity, peroxide value, particle size.

    Why: the recipe cannot prove it; the supplier's papers have to.  Always a note.
    """

    id = "ask-supplier"
    kind = "ask"
    lead = "to be shown by the supplier's papers"
