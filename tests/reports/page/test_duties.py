"""What has to follow: by owner, with its trigger, its size, and what still covers."""

from __future__ import annotations

import datetime
from dataclasses import replace

from formula_vcs.evidence.coverage import COVERS, REFUSED, Coverage
from formula_vcs.evidence.duties import Duty
from formula_vcs.model.evidence import Proof
from formula_vcs.reports.page.duties import follows
from tests.helpers_html import parsed
from tests.helpers_page import MORE_PRESERVATIVE, review

BASE = review("face-polish", MORE_PRESERVATIVE)
CAUSE = BASE.changes[0].id
CHALLENGE = Duty(
    "repeat the challenge test", "microbiology", (CAUSE,), "challenge test <CT-7>", "ISO 11930",
    kind="challenge-test", lines=("benzyl-alcohol-dha: +50 % (beyond 10 %)",),
)  # fmt: skip
DAY = datetime.date(2026, 5, 1)


def proof(report: str) -> Proof:
    return Proof("e.toml", 0, "face-polish", "stability", "c", "h", report, DAY, None, "", None, None, "", "")


def test_duties_stand_under_their_owner() -> None:
    other = replace(CHALLENGE, duty="say it anew", owner="regulatory", because=())

    page = parsed(follows(replace(BASE, duties=(CHALLENGE, other)), evidence=True))

    assert ["Microbiology", "Regulatory"] == [head.text for head in page.all("h4")]
    text = page.all("li")[0].text
    assert "repeat the challenge test" in text
    assert "challenge test <CT-7>" in text
    assert "benzyl-alcohol-dha: +50 % (beyond 10 %)" in text
    assert "ISO 11930" in text
    assert "because benzyl-alcohol-dha (D)" in text
    assert ["How far, and by which rule"] == [fold.text for fold in page.all("li")[0].all("summary")]


def test_what_is_cut_short_stands_whole_in_the_fold() -> None:
    lines = tuple(f"material-{number} is new in it" for number in range(9))

    (entry,) = parsed(follows(replace(BASE, duties=(replace(CHALLENGE, lines=lines),)), evidence=True)).all("li")[:1]

    (fold,) = entry.all("details")
    assert all(line in fold.text for line in lines)
    assert "and 6 more" in entry.text
    assert entry.text.count(lines[8]) == 1


def test_a_duty_that_was_due_before_says_so() -> None:
    page = parsed(follows(replace(BASE, duties=(replace(CHALLENGE, standing=True),)), evidence=True))

    assert "due before this change already" in page.text


def test_proofs_that_cover_and_proofs_that_are_refused() -> None:
    found = (Coverage(proof("ST-1"), COVERS), Coverage(proof("ST-2"), REFUSED, why="its hash is another"))

    page = parsed(follows(replace(BASE, proofs=found), evidence=True))

    assert "Still covered by stability ST-1." in page.text
    assert "Stability ST-2 counts for nothing: its hash is another." in page.text
    assert "outdated" not in page.text
    covered = parsed(follows(replace(BASE, proofs=found[:1]), evidence=True))
    assert "No evidence recorded here is outdated by it." in covered.text


def test_nothing_recorded_is_said() -> None:
    page = parsed(follows(replace(BASE, unrecorded=("stability", "artwork")), evidence=False))

    assert "No evidence recorded of stability or artwork, which such a change would outdate." in page.text
