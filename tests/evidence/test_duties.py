"""Who has to do what again because of a change, and which change that is."""

from __future__ import annotations

import datetime

from formula_vcs.diff.diff import diff
from formula_vcs.evidence.coverage import Evidence
from formula_vcs.evidence.duties import Following, Reviewed, follow, without
from formula_vcs.evidence.pinned_versions import Pinned
from formula_vcs.model.content_hash import content_hash
from formula_vcs.model.formula import Formula
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.helpers_demo import Edit, demo
from tests.laws.test_duty_laws import OneVersion, Passed

DAY = datetime.date(2026, 6, 22)
CREAM = "hand-cream.toml"
SHIPPED = demo("hand-cream")


class Versions(OneVersion):
    """Several versions by their commits; none of them is asked whether it passed."""

    def __init__(self, **versions: Formula) -> None:
        """Take the versions."""
        super().__init__(next(iter(versions.values())))
        self._versions = {name * 40: Passed("found", name * 40, of) for name, of in versions.items()}

    def at(self, commit: str, recipe: str) -> Pinned:
        """Give a version."""
        del recipe
        return self._versions[commit]


def proof(commit: str, of: Formula, report: str, kind: str = "stability", more: str = "") -> str:
    return (
        f'[[proof]]\nkind = "{kind}"\ncommit = "{commit * 40}"\nhash = "{content_hash(of.recipe, of.premixes)}"\n'
        f'report = "{report}"\npassed = 2026-02-12\n{more}\n'
    )


def followed(old: Formula, new: Formula, evidence: str, versions: Versions | None = None) -> Following:
    files = Files({"evidence/e.toml": f'recipe = "hand-cream"\n{evidence}'} if evidence else {})
    with Snapshot(files) as snapshot:
        found = Evidence(snapshot, versions or Versions(a=SHIPPED))
        return follow(found, Reviewed(old, new, diff(old, new), DAY))


def glycerin(amount: str) -> Edit:
    return (CREAM, "glycerin          = 5.00", f"glycerin = {amount}")


def test_a_change_beyond_a_line_is_a_duty_with_its_owner_and_its_cause() -> None:
    new = demo("hand-cream", glycerin("4.40"), (CREAM, 'title   = "Skerry hand cream"', 'title = "Skerry cream"'))

    (duty,) = followed(SHIPPED, new, proof("a", SHIPPED, "ST-1")).duties

    assert ("Repeat the stability study", "formulator", "stability ST-1") == (duty.duty, duty.owner, duty.evidence)
    assert ("amount:phase/A/charge/glycerin",) == duty.because
    assert ("glycerin \u221212 % of its amount (beyond 10 %)",) == duty.lines
    assert not duty.standing
    assert "Annex I, A.2" in duty.source
    assert "SUPAC-SS" in duty.source


def test_a_test_of_what_the_product_does_goes_by_what_the_material_is_there_for() -> None:
    def of(function: str, amount: str) -> Formula:
        return demo(
            "hand-cream",
            glycerin(amount),
            ("ingredients/glycerin.toml", 'functions = ["humectant", "solvent"]', f'functions = ["{function}"]'),
        )

    def must(function: str, kind: str, amount: str) -> list[str]:
        old = of(function, "5.00")
        return [
            duty.must
            for duty in followed(old, of(function, amount), proof("a", old, "T-1", kind), Versions(a=old)).duties
        ]

    assert must("UV filter", "spf-test", "5.01") == ["repeat"]
    assert must("humectant", "spf-test", "5.49") == []
    assert must("humectant", "spf-test", "5.51") == ["decide"]  # beyond 10 % of its amount
    assert must("abrasive", "rda", "5.01") == ["repeat"]
    assert must("abrasive", "fluoride-recovery", "5.01") == ["decide"]
    assert must("preservative", "patch-test", "5.01") == ["decide"]
    assert must("active", "efficacy", "5.01") == ["repeat"]
    assert must("humectant", "use-test", "5.51") == ["decide"]


def test_salami_is_measured_from_the_version_that_was_tested() -> None:
    """The review is about 1 % of the glycerin; since the study it is 6 %, and the 1 % brings it over the line."""
    before, after = demo("hand-cream", glycerin("4.75")), demo("hand-cream", glycerin("4.70"))

    (duty,) = followed(before, after, proof("a", SHIPPED, "ST-1")).duties

    assert ("glycerin \u22126 % of its amount (beyond 5 %)",) == duty.lines
    assert ("amount:phase/A/charge/glycerin",) == duty.because
    assert "decide" == duty.must
    assert not duty.standing


def test_a_duty_that_was_there_before_is_not_blamed_on_the_change() -> None:
    before = demo("hand-cream", glycerin("4.40"))
    after = demo("hand-cream", glycerin("4.40"), (CREAM, 'viscosity = "18 to 28 Pa*s"', 'viscosity = "19 to 27 Pa*s"'))

    (duty,) = followed(before, after, proof("a", SHIPPED, "ST-1")).duties

    assert (True, ()) == (duty.standing, duty.because)


def test_a_change_that_adds_to_a_standing_duty_is_named() -> None:
    before, after = demo("hand-cream", glycerin("4.40")), demo("hand-cream", glycerin("4.30"))

    (duty,) = followed(before, after, proof("a", SHIPPED, "ST-1")).duties

    assert (True, ("amount:phase/A/charge/glycerin",)) == (duty.standing, duty.because)


def test_half_taken_back_is_not_blamed() -> None:
    before, after = demo("hand-cream", glycerin("4.00")), demo("hand-cream", glycerin("4.40"))

    (duty,) = followed(before, after, proof("a", SHIPPED, "ST-1")).duties

    assert (True, ()) == (duty.standing, duty.because)


def test_all_taken_back_is_no_duty() -> None:
    found = followed(demo("hand-cream", glycerin("4.00")), SHIPPED, proof("a", SHIPPED, "ST-1"))

    assert () == found.duties
    assert ["covers"] == [one.state for one in found.proofs]


def test_a_newer_study_takes_the_place_of_the_older() -> None:
    newer = demo("hand-cream", glycerin("4.40"))
    evidence = proof("a", SHIPPED, "ST-1") + proof("b", newer, "ST-2")
    versions = Versions(a=SHIPPED, b=newer)

    found = followed(SHIPPED, demo("hand-cream", glycerin("4.30")), evidence, versions)

    assert ((), "ST-2") == (found.duties, found.proofs[0].proof.report)


def test_two_changes_that_do_the_same_are_found_together() -> None:
    """Either alone puts shea before glycerin, so leaving one out changes nothing: a smallest set is named."""
    shea = (CREAM, "shea-butter           = 4.00", "shea-butter = 4.98")
    new = demo("hand-cream", glycerin("4.00"), shea)

    (duty,) = followed(SHIPPED, new, proof("a", SHIPPED, "A-1", "artwork", 'market = "EU"')).duties

    assert duty.because
    assert set(duty.because) <= {"amount:phase/A/charge/glycerin", "amount:phase/B/charge/shea-butter"}


def test_what_has_ended_is_renewed_whatever_changed() -> None:
    new = demo("hand-cream", (CREAM, "note    = ", 'note = "x" # note = '))

    (duty,) = followed(SHIPPED, new, proof("a", SHIPPED, "ST-1", more="until = 2026-06-21")).duties

    assert ("expired", True, ()) == (duty.must, duty.standing, duty.because)
    assert ("it ended on 2026-06-21",) == duty.lines


def test_ingredient_data_at_the_pinned_commit_count() -> None:
    new = demo("hand-cream", ("ingredients/glycerin.toml", 'supplier  = "', 'supplier  = "New '))
    evidence = proof("a", SHIPPED, "C-1", "certificate", 'scheme = "cosmos-natural-4"')

    (duty,) = followed(SHIPPED, new, evidence).duties

    assert ("ingredient:ingredient/glycerin/supplier",) == duty.because
    assert "control manual" in duty.source
    assert "certification" == duty.owner


def test_without_evidence_nothing_is_a_duty() -> None:
    found = followed(SHIPPED, demo("hand-cream", glycerin("4.00")), "")

    assert ((), ()) == (found.duties, found.proofs)
    assert ("stability", "challenge test", "safety assessment", "artwork", "notification") == found.unrecorded
    price = demo("hand-cream", ("ingredients/shea-butter.toml", 'cost  = "', 'cost  = "1'))
    assert () == followed(SHIPPED, price, "").unrecorded


def test_a_market_that_came_asks_for_what_is_recorded_of_others_alone() -> None:
    """Artwork and notification of one market say nothing of another; where none names a market nobody can tell."""
    old = demo("hand-cream", (CREAM, 'markets = ["EU", "US"]', 'markets = ["EU"]'))
    of_eu = proof("a", SHIPPED, "AW-1", "artwork", 'market = "EU"') + proof("a", SHIPPED, "N-1", "notification")

    assert "artwork (US)" in followed(old, SHIPPED, of_eu).unrecorded
    assert "notification (US)" not in followed(old, SHIPPED, of_eu).unrecorded


def test_nobody_has_to_challenge_what_nothing_grows_in() -> None:
    """A balm without water: a material that went puts its challenge test in question, and none is missed."""
    old = demo("lip-balm")
    new = demo("lip-balm", ("lip-balm.toml", "tocopherol-70 = 0.30\n", ""))
    files = Files({"evidence/e.toml": f'recipe = "lip-balm"\n{proof("a", old, "CH-1", "challenge-test")}'})
    with Snapshot(files) as snapshot:
        found = follow(Evidence(snapshot, Versions(a=old)), Reviewed(old, new, diff(old, new), DAY))

    assert [("challenge-test", "decide")] == [(duty.kind, duty.must) for duty in found.duties]
    assert "challenge test" not in found.unrecorded


def test_many_changes_are_named_by_a_smallest_set() -> None:
    """Above forty changes each is not left out one by one."""
    steps = "".join(f'\n[[step]]\nid = "wait-{n}"\nrest = "1 h"\n' for n in range(45))
    new = demo("hand-cream", glycerin("4.40"), (CREAM, "\n[spec]", f"{steps}\n[spec]"))

    (duty,) = followed(SHIPPED, new, proof("a", SHIPPED, "ST-1")).duties

    assert 1 == len(duty.because)
    assert (46, 46) == (len(duty.lines), len(set(duty.lines)))
    assert duty.size.endswith("; and 40 more")


def test_what_says_most_comes_first() -> None:
    """The farthest of a class, one of each place, and no sum beside the amounts that it sums."""
    gum = (CREAM, "xanthan-gum       = 0.30", "xanthan-gum = 0.10")
    heat = (CREAM, 'time  = "35 min"\ntemp  = "74 to 78 degC"', 'time = "60 min"\ntemp = "74 to 90 degC"')

    (duty,) = followed(SHIPPED, demo("hand-cream", glycerin("4.00"), gum, heat), proof("a", SHIPPED, "ST-1")).duties

    assert ["xanthan-gum", "glycerin", "step", "all", "step"] == [line.split()[0] for line in duty.lines]


def test_a_recipe_that_is_new_has_duties_and_no_causes() -> None:
    """Its evidence came with it, and it was changed after that."""
    new = demo("hand-cream", glycerin("4.00"))
    files = Files({"evidence/e.toml": f'recipe = "hand-cream"\n{proof("a", SHIPPED, "ST-1")}'})
    with Snapshot(files) as snapshot:
        found = follow(Evidence(snapshot, Versions(a=SHIPPED)), Reviewed(None, new, (), DAY))

    assert [("repeat", (), False)] == [(duty.must, duty.because, duty.standing) for duty in found.duties]
    assert () == found.unrecorded


def test_evidence_of_a_recipe_that_is_gone_or_cannot_be_read() -> None:
    files = Files({"evidence/e.toml": f'recipe = "hand-cream"\n{proof("a", SHIPPED, "ST-1")}'})
    with Snapshot(files) as snapshot:
        evidence = Evidence(snapshot, Versions(a=SHIPPED))
        gone, unread = (without(evidence, "hand-cream", removed=removed).proofs for removed in (True, False))

        assert ["refused", "not known"] == [one.state for one in (*gone, *unread)]
        assert ["its recipe is gone", "its recipe cannot be read"] == [one.why for one in (*gone, *unread)]
        assert () == without(evidence, "lip-balm", removed=True).proofs


def test_evidence_that_did_not_follow_a_renamed_recipe_counts() -> None:
    text = f'recipe = "hand-cream"\n{proof("a", SHIPPED, "ST-1")}'
    with Snapshot(Files({"evidence/e.toml": text})) as snapshot:
        evidence = Evidence(snapshot, Versions(a=SHIPPED))

        assert ["ST-1"] == [one.report for one in evidence.of("salve", "hand-cream")]
        assert [] == evidence.of("salve", "lip-balm")
        assert ["ST-1"] == [one.report for one in evidence.of("hand-cream", "hand-cream")]
    with Snapshot(Files({"hand-cream.toml": 'title = "x"', "evidence/e.toml": text})) as snapshot:
        assert [] == Evidence(snapshot, Versions(a=SHIPPED)).of("salve", "hand-cream")
