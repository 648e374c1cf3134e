"""The evidence of the demo: what the proposal outdates, what salami has come to, what ends."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path

import pytest

from formula_vcs.evidence.coverage import Coverage, Evidence
from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.figures.figure import Terms
from formula_vcs.git import repository
from formula_vcs.review.compare import Review, compare
from formula_vcs.setup.demo_story import MAIN, commits
from formula_vcs.setup.history_writer import create
from formula_vcs.setup.shipped import texts
from formula_vcs.workspace.snapshot import Committed, Snapshot

DAY = datetime.date(2026, 6, 22)


@pytest.fixture(scope="module")
def island(tmp_path_factory: pytest.TempPathFactory) -> repository.Repo:
    """Build the demo's repository once."""
    folder = tmp_path_factory.mktemp("demo") / "island"
    create(folder, commits(texts("recipes")), branch=MAIN)
    return repository.open_repo(folder, inherit=False)


def snapshot(repo: repository.Repo, revision: str) -> Snapshot:
    return Snapshot(Committed(repo, repository.resolve(repo, revision), "", revision))


@pytest.fixture(scope="module")
def proposed(island: repository.Repo) -> Iterator[dict[str, Review]]:
    """Review the proposal as a pull request."""
    base = repository.merge_base(island, "main", "proposal")
    with snapshot(island, base) as old, snapshot(island, "proposal") as new, PinnedVersions(island, "") as pins:
        yield {review.recipe: review for review in compare(old, new, Terms(DAY), pins=pins).reviews}


def worth(repo: repository.Repo, recipe: str, day: datetime.date = DAY) -> dict[str, Coverage]:
    """Say what each proof of a recipe is worth on main."""
    with snapshot(repo, "main") as files, PinnedVersions(repo, "") as pins:
        made = files.recipe(recipe)
        assert made is not None
        evidence = Evidence(files, pins)
        found = [evidence.covered(proof, files.formula(made), day) for proof in evidence.of(recipe)]
        return {one.proof.report: one for one in found}


def test_the_proposal_has_duties_for_the_hand_cream(proposed: dict[str, Review]) -> None:
    duties = {duty.kind: duty for duty in proposed["hand-cream"].duties}

    assert {
        "stability": "repeat", "challenge-test": "decide", "safety-assessment": "decide", "artwork": "repeat",
        "notification": "repeat",
    } == {kind: duty.must for kind, duty in duties.items()}  # fmt: skip
    assert ("amount:phase/A/charge/glycerin",) == duties["artwork"].because
    assert "step-changed:step/heat-water/shear" in duties["stability"].because
    # the xanthan of April is a question already, whatever the proposal does
    assert ["safety-assessment"] == [kind for kind, duty in duties.items() if duty.standing]
    assert ("amount:phase/A/charge/glycerin",) == duties["safety-assessment"].because


def test_the_proposal_has_duties_for_the_face_polish(proposed: dict[str, Review]) -> None:
    duties = {duty.evidence: duty for duty in proposed["face-polish"].duties}

    assert ["challenge test CT-2026-021", "process validation PV-2026-004"] == list(duties)
    assert ("amount:phase/D/charge/benzyl-alcohol-dha",) == duties["challenge test CT-2026-021"].because
    assert ("grade-swap:phase/A/charge/silica-thickening",) == duties["process validation PV-2026-004"].because
    assert "stability" in proposed["face-polish"].unrecorded


def test_on_main_the_hand_cream_is_covered_but_for_a_touch_of_xanthan(island: repository.Repo) -> None:
    """Prices, statements and a tighter pH window have come since, and 0.28 to 0.30 % of the gum."""
    found = worth(island, "hand-cream")

    assert {"decide": ["SA-2026-002", "ST-2025-031"], "covers": ["AW-0107", "CT-2025-118", "N-3316204"]} == {
        state: sorted(report for report, one in found.items() if one.state == state) for state in ("decide", "covers")
    }
    assert ["xanthan-gum +7.14 % of its amount (beyond 5 %)"] == [one.text for one in found["ST-2025-031"].crossings]


def test_three_small_cuts_of_wax_have_come_to_a_question(island: repository.Repo) -> None:
    """8.50 to 8.35, 8.20 and 8.00: none of them more than 2.5 % of what it was, 5.88 % together."""
    found = worth(island, "lip-balm")["ST-2025-044"]

    assert "decide" == found.state
    assert ["candelilla-wax \u22125.88 % of its amount (beyond 5 %)"] == [one.text for one in found.crossings]


def test_one_certificate_ends(island: repository.Repo) -> None:
    states = [worth(island, "lip-balm", datetime.date(2026, 8, day))["C-48812"].state for day in (31,)]
    after = worth(island, "lip-balm", datetime.date(2026, 9, 1))["C-48812"].state

    assert [["covers"], "expired"] == [states, after]


def test_pins_name_commits_of_the_story(island: repository.Repo) -> None:
    for path in (Path("hand-cream"), Path("face-polish"), Path("lip-balm")):
        for one in worth(island, path.name).values():
            assert repository.log_line(island, one.commit).author in {
                "Ailsa Thorne",
                "Jonah Merrick",
                "Petra Lindqvist",
            }
