"""What a change takes away of the preservation blocks; what was never preserved is a warning."""

from __future__ import annotations

import datetime
from collections.abc import Callable

import pytest

from formula_vcs.figures.figure import Terms
from formula_vcs.review.compare import Review, compare
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
DAY = datetime.date(2026, 6, 1)
SERUM = """\
title = "Serum"

[phase.A.charge]
water    = "to 100"
glycerin = 5.00
{charges}

[[step]]
id    = "mix"
into  = "main"
add   = ["A"]
shear = "low"
{rest}
"""
MIX = 'title = "Mix"\n[substances]\nPhenoxyethanol = 90\nEthylhexylglycerin = 10\n'
BOOSTER = 'title = "Booster"\n[substances]\nEthylhexylglycerin = 100\n'


def reviewed(workspace: MakeWorkspace, was: str, now: str, rest: str = "") -> Review:
    files = {"ingredients/mix.toml": MIX, "ingredients/booster.toml": BOOSTER}
    past, present = (
        workspace({**files, "cream.toml": SERUM.format(charges=charges, rest=more)})
        for charges, more in ((was, ""), (now, rest))
    )
    (review,) = compare(past, present, Terms(DAY)).reviews
    return review


def found(review: Review) -> list[tuple[str, tuple[str, ...] | None]]:
    return [(new.finding.severity, new.causes) for new in review.new if new.finding.rule == "preserved"]


def test_the_last_preservative_taken_out_blocks_and_its_change_is_named(workspace: MakeWorkspace) -> None:
    review = reviewed(workspace, "mix = 1.00", "")

    assert [("block", ("removed:phase/A/charge/mix",))] == found(review)
    assert review.blocked
    (message,) = [new.finding.message for new in review.new if new.finding.rule == "preserved"]
    assert "the change took phenoxyethanol, ethylhexylglycerin away" in message


@pytest.mark.parametrize("now", ["booster = 0.10", "mix = 0.11"])
def test_a_booster_alone_or_a_fifth_of_the_usual_is_none(workspace: MakeWorkspace, now: str) -> None:
    """0.11 % of the mix is 0.099 % phenoxyethanol; a fifth of 0.5 % is 0.1 %."""
    assert ["block"] == [severity for severity, _ in found(reviewed(workspace, "mix = 1.00", now))]


def test_a_fifth_of_the_usual_still_counts(workspace: MakeWorkspace) -> None:
    """0.12 % of the mix is 0.108 % phenoxyethanol."""
    assert [] == found(reviewed(workspace, "mix = 1.00", "mix = 0.12"))


def test_what_was_never_preserved_is_warned_of_once(workspace: MakeWorkspace) -> None:
    assert [] == found(reviewed(workspace, "", "booster = 0.10"))


def test_what_is_accepted_stays_a_note(workspace: MakeWorkspace) -> None:
    accept = '\n[[accept]]\nrule = "preserved"\nabout = "none"\nwhy = "sterile monodose"\n'

    assert ["note"] == [severity for severity, _ in found(reviewed(workspace, "mix = 1.00", "", accept))]


BENZOATE = 'title = "Benzoate"\n[substances]\n"Sodium Benzoate" = 100\n'


@pytest.mark.parametrize(
    ("was", "now", "charges", "severity"),
    [
        ('[spec]\npH = "4.0 to 4.5"', "", "benzoate = 0.50", ["block"]),
        ('[spec]\npH = "4.0 to 4.5"', '[spec]\npH = "at least 4.0"', "benzoate = 0.50", ["block"]),
        ('[spec]\npH = "4.0 to 4.5"', '[spec]\npH = "4.0 to 4.6"', "benzoate = 0.50", []),
        ('[spec]\npH = "at least 4.0"', "", "benzoate = 0.50", []),  # it was warned of before
        ('[spec]\npH = "4.0 to 4.5"', "", "benzoate = 0.50\nmix = 1.00", ["warn"]),  # something else preserves
    ],
)
def test_the_range_that_a_weak_acid_works_under_taken_away_blocks(
    workspace: MakeWorkspace, was: str, now: str, charges: str, severity: list[str]
) -> None:
    """The range is a part of the preservation: what it held was free acid."""
    files = {"ingredients/mix.toml": MIX, "ingredients/benzoate.toml": BENZOATE}
    past, present = (
        workspace({**files, "cream.toml": SERUM.format(charges=charges, rest=rest)}) for rest in (was, now)
    )
    (review,) = compare(past, present, Terms(DAY)).reviews
    new = [item.finding for item in review.new if item.finding.rule == "acid-range"]

    assert severity == [item.severity for item in new]
    assert all("took the spec's pH 4.0 to 4.5" in item.message for item in new if item.severity == "block")
