"""Claims that a test proves: "SPF 30", and claims in the house's own words with the kind of proof that each needs.

What is judged here is the record: a proof of the kind, not ended, that found what is claimed.  Whether it still covers
the recipe as it stands is measured where versions can be looked up (`evidence/claim_proofs.py`), and said there.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Final

from formula_vcs.figures.standards import ClaimOutcome
from formula_vcs.law.claims.part import ClaimCondition, verdict
from formula_vcs.law.compliance import Compliance
from formula_vcs.law.duty_table import table_of
from formula_vcs.model.content_hash import content_hash
from formula_vcs.model.evidence import Proof, title
from formula_vcs.toml.takers import nearest
from formula_vcs.words.late_pattern import late_pattern

SPF: Final = late_pattern(r"SPF[ -]?(?P<value>[1-9]\d{0,2})(?P<more>\+?)", re.IGNORECASE)
SPF_TEST: Final = "spf-test"
# Commission Recommendation 2006/647/EC on the efficacy of sunscreen products, from memory: the numbers that a label
# gives, and that "50+" stands for 60 and more.  It binds nobody; other markets have rules of their own.
_LABELLED: Final = ("6", "10", "15", "20", "25", "30", "50", "50+")
_FIFTY_PLUS: Final = Decimal(60)
_RECOMMENDED: Final = "Recommendation 2006/647/EC, from memory"


def needed(claim: str, own: str = "") -> str:
    """The kind of proof that a claim needs: ``own`` is what the recipe states with it; "" where it needs none."""
    return own or (SPF_TEST if SPF.fullmatch(claim) else "")


def of_claim(proof: Proof, claim: str) -> bool:
    """Say whether a proof may be of a claim: it names that one, or none."""
    return not proof.claim or _alike(proof.claim, claim)


def spf(found: Compliance, claim: str, match: re.Match[str], day: datetime.date) -> ClaimOutcome:
    """Judge a sun protection factor by the newest SPF test on record, which states what it found."""
    value, label = Decimal(match["value"]), match["value"] + match["more"]
    proofs, ended = _standing(found, SPF_TEST, day)
    proofs = [proof for proof in proofs if of_claim(proof, claim)]
    least = _FIFTY_PLUS if label == "50+" else value
    asked = f"at least {least}{f', {_RECOMMENDED}' if label == '50+' else ''}"
    if not proofs:
        return _unproved(claim, SPF_TEST, ended, f"a value of {asked}")
    proof = proofs[-1]
    if proof.value is None:
        words = f"{_named(proof)} does not state what it found ('value')"
        return verdict(claim, [ClaimCondition(None, words, (f"{proof.report}: the SPF that it found",))])
    met = proof.value > least if match["more"] and label != "50+" else proof.value >= least
    words = f"{_named(proof)} found {proof.value} ({asked}); UVA protection is not judged{_whose(found, proof)}"
    if "EU" in found.markets and label not in _LABELLED:
        words += f"; a label gives {', '.join(_LABELLED[:-1])} or {_LABELLED[-1]} ({_RECOMMENDED})"
    return verdict(claim, [ClaimCondition(met, words)])


def own_words(found: Compliance, claim: str, kind: str, day: datetime.date) -> ClaimOutcome:
    """Judge a claim in the house's own words by the proof of its kind on record.

    A proof that names a claim is of that claim alone; one that names none counts where no other claim of the recipe
    needs its kind.
    """
    kinds = table_of(found.formula.workspace).kinds
    if kind not in kinds:
        words = f"no kind of evidence is called '{kind}'{nearest(kind, kinds)}"
        return ClaimOutcome(claim, "needs information", words)
    proofs, ended = _standing(found, kind, day)
    own = [proof for proof in proofs if _alike(proof.claim, claim)]
    if own:
        return verdict(claim, [ClaimCondition(True, f"{_named(own[-1])} is of it{_whose(found, own[-1])}")])
    open_ones = [proof for proof in proofs if not proof.claim]
    if not open_ones:
        return _unproved(claim, kind, ended, f'of this claim (claim = "{claim}")')
    proof = open_ones[-1]
    others = [other for other, wants in found.formula.recipe.own_claims.items() if wants == kind and other != claim]
    if others:
        words = f"{_named(proof)} does not say which of the claims it proves"
        return verdict(claim, [ClaimCondition(None, words, (f'{proof.report}: the claim that it proves ("claim")',))])
    words = f"{_named(proof)} is on record; it names no claim{_whose(found, proof)}"
    return verdict(claim, [ClaimCondition(True, words)])


def _standing(found: Compliance, kind: str, day: datetime.date) -> tuple[list[Proof], list[Proof]]:
    """The proofs of a kind that stand on a day, the newest last, and those that have ended."""
    recipe = found.formula.recipe.id
    all_of_it = [proof for proof in found.formula.shelf.proofs(recipe) if proof.kind == kind and proof.passed <= day]
    ordered = sorted(all_of_it, key=lambda proof: (proof.passed, proof.report))
    return [one for one in ordered if not one.ended(day)], [one for one in ordered if one.ended(day)]


def _unproved(claim: str, kind: str, ended: Sequence[Proof], what: str) -> ClaimOutcome:
    words = "; ".join(_of_ended(kind, ended))
    return verdict(claim, [ClaimCondition(None, words, (f"proof of kind '{kind}': {what}",))])


def _of_ended(kind: str, ended: Sequence[Proof]) -> Iterator[str]:
    if ended:
        yield f"{_named(ended[-1])} ended on {ended[-1].until}"
    yield f"it needs proof of the kind '{kind}', and none {'other ' if ended else ''}that stands is on record"


def _named(proof: Proof) -> str:
    return f"{title(proof.kind)} {proof.report}"


def _whose(found: Compliance, proof: Proof) -> str:
    """Say whether a proof is of this very version."""
    formula = found.formula
    if content_hash(formula.recipe, formula.premixes) == proof.hash:
        return "; it is of this version"
    return f"; it is of another version, and what still covers this one `show {formula.recipe.id} --evidence` says"


def _alike(one: str, other: str) -> bool:
    return " ".join(one.split()).casefold() == " ".join(other.split()).casefold()
