"""What makes a judgement milder or blinder than it was: said of a change, judged by the old version's rules."""

from __future__ import annotations

from typing import ClassVar, Final

from formula_vcs.rules.rule import Rule

SOURCE: Final = "the old version's own rules"


class _Guard(Rule):
    severity = "warn"
    source = SOURCE
    judges = "review"
    of: ClassVar[str] = ""


class GuardProduct(_Guard):
    """What the product is, for whom and how it is used decides which limits bind it.

    Why: called a premix, or a rinse-off where it stays on, a product is under other limits or under none, and the check
    that passes is another check.  A change of the header that hides a finding is said first, with the finding.

    Not so:
        product = "premix"
    So:
        product = "hand cream"
    """

    id = "guard-product"
    of = "product"


class GuardMarket(_Guard):
    """A market, or a pack of rules, is not struck out without a word.

    Why: with `markets = []` no limit, label or ban of the law is looked at any more.

    Not so:
        markets = []
    So:
        markets = ["EU"]
    """

    id = "guard-market"
    of = "market"


class GuardClaim(_Guard):
    """A claim is not taken back without a word.

    Why: nobody proves any more what the pack may still say.

    So:
        claims = ["natural-origin at least 95 %"]
    """

    id = "guard-claim"
    of = "claim"


class GuardSpec(_Guard):
    """What the product must measure is not taken away or widened without a word.

    Why: with the range of the pH goes what is judged by it: the preservative's window, the step that sets it.  The rest
    of the change is judged as if the old range still stood, and what comes out is said with it.

    So:
        pH = "4.8 to 5.2"
    """

    id = "guard-spec"
    of = "limit"


class GuardTolerance(_Guard):
    """How a weighing is allowed and looked after is not changed without a word.

    Why: a wider tolerance lets a batch pass over a limit; a narrower one makes the margin to a limit look safe;
    without a second person nobody sees a slip.

    So:
        tolerance = "1 %"
    """

    id = "guard-tolerance"
    of = "tolerance"


class GuardAccept(_Guard):
    """A finding that a change accepts is said with the change.

    Why: an acceptance turns a block into a note for everybody who comes later.

    So:
        [[accept]]
        rule  = "allergen-margin"
        about = "Linalool"
        why   = "artwork already carries the name"
    """

    id = "guard-accept"
    of = "acceptance"


class GuardHandling(_Guard):
    """What a material may and must live through is not struck out or loosened without a word.

    Why: the limit is the supplier's or the house's experience; without it the same process passes.

    So:
        shear_at_most = "low"
    """

    id = "guard-handling"
    of = "handling"


class GuardMaterial(_Guard):
    """What a material is made of is not told otherwise so that a finding goes.

    Why: under another INCI name, without its CAS number or with less of a substance, a material drops out of limits,
    bans and the label while the drum on the pallet is the same.

    So:
        "Phenoxyethanol" = { pct = 90, cas = "122-99-6" }
    """

    id = "guard-material"
    of = "composition"


class GuardRule(_Guard):
    """A rule of the house is not struck out, raised or narrowed without a word.

    Why: whoever may write `rules/` may else lift the rule that stops the change.

    So:
        at_most = "0.8 %"
    """

    id = "guard-rule"
    of = "house rule"


class GuardEvidence(_Guard):
    """Evidence is not deleted, pinned to another version or prolonged by the change that it stands against.

    Why: what a change outdates is found by what was proved; without the proof, or with the new version put into the old
    one, nothing is left to redo.

    So:
        commit = "3f2c9d1"          # as it was when the study passed
    """

    id = "guard-evidence"
    of = "evidence"


class GuardRecord(_Guard):
    """A finished record is not edited, reopened or deleted.

    Why: the record of a batch says what happened; what is put right in it is a [[deviation]] or a new record.

    So:
        [[deviation]]
    """

    id = "guard-record"
    of = "record"


class GuardExtent(_Guard):
    """What was judged stays among what is judged.

    Why: a recipe renamed to `.TOML`, moved to a hidden folder, behind a link or into a workspace of its own is still
    made, and nobody looks at it.

    So:
        recipes/face-polish.toml
    """

    id = "guard-extent"
    of = "extent"


class GuardHouse(_Guard):
    """The workspace asks for no less than it did.

    Why: `reason = "required"`, the roles that approve and their like are the house's own guard.

    So:
        reason = "required"
    """

    id = "guard-house"
    of = "workspace"


class GuardApproval(_Guard):
    """Who may approve, what needs it, and what was signed are not changed by the change that they stand against.

    Why: whoever puts her own key into the trust file, takes a product out of the rows that ask for approvals, or
    deletes a withdrawal, approves herself. A change of approvals/trust.toml or of the [[approval]] rows passes once
    the old trust has signed it (`git formula approve --trust`).

    So:
        [[approval]]
        roles = ["RD", "QA"]
    """

    id = "guard-approval"
    of = "approval"


GUARDS: Final[tuple[type[_Guard], ...]] = (
    GuardProduct, GuardMarket, GuardClaim, GuardSpec, GuardTolerance, GuardAccept, GuardHandling, GuardMaterial,
    GuardRule, GuardEvidence, GuardRecord, GuardExtent, GuardHouse, GuardApproval,
)  # fmt: skip
