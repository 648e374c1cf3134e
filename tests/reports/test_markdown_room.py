"""The review as the one comment of a pull request: it fits whatever the change, and says what it left out."""

from __future__ import annotations

import io
import re

from hypothesis import example, given, settings
from hypothesis import strategies as st

from formula_vcs.diff.change import Change
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.reports.fit_comment import cut
from formula_vcs.reports.review import markdown as review_markdown
from formula_vcs.review.compare import Comparison, NewFinding, Review
from tests import helpers_hosts
from tests.hostile.corpus import NASTY

NAMES = st.sampled_from((*NASTY, "glycerin", "\U0001f9f4" * 50, "&" * 3000, "@" * 500))


def review(number: int, name: str, changes: int, findings: int, severity: Severity) -> Review:
    """Make a review of some size; every finding is brought by all changes together."""
    made = tuple(Change("other", f"x/{number}/{at}", "1", "2", f"{name} {at}: was 1, now 2") for at in range(changes))
    found = [
        Finding("total", severity, f"{name} {at}", f"{name}.toml", recipe=f"r{number}", subject=str(at), line=at + 1)
        for at in range(findings)
    ]
    ids = tuple(change.id for change in made)
    half = findings // 2
    new = tuple(NewFinding(finding, ids) for finding in found[:half])
    return Review(f"r{number}", f"{name} {number}", "changed", "f", made, (), new, (), tuple(found[half:]))


REVIEWS = st.tuples(
    st.integers(0, 400), NAMES, st.sampled_from((0, 1, 10, 15, 3000)), st.sampled_from((0, 1, 30, 400)),
    st.sampled_from(("block", "warn", "note")),
)  # fmt: skip


def written(comparison: Comparison) -> str:
    out = io.StringIO()
    review_markdown.write(comparison, title=NASTY[0], evidence=False, blocked=True, out=out)
    return out.getvalue()


@settings(max_examples=15)
@given(st.lists(REVIEWS, max_size=3), st.integers(1, 250))
@example([(1, "&" * 3000, 3000, 40, "block")], 1)
@example([(1, NASTY[4], 15, 30, "warn"), (2, "\U0001f9f4" * 50, 10, 1, "block")], 250)
def test_it_fits_and_nothing_in_it_takes_effect(sizes: list[tuple[int, str, int, int, Severity]], times: int) -> None:
    # thousands of changes, or hundreds of recipes
    many = 1 if any(size[2] + size[3] > 100 for size in sizes) else times
    reviews = [review(n * 1000 + size[0], *size[1:]) for n in range(many) for size in sizes[:1]]
    reviews += [review(*size) for size in sizes[1:]]

    text = written(Comparison("a", "b", tuple(reviews), (), (), 0))

    # whether a host counts bytes, code points or UTF-16 units
    assert 65_536 > len(text.encode())
    assert text.startswith(f"{review_markdown.MARKER}\n")
    assert text.count("<details") == text.count("</details>")
    helpers_hosts.markdown(text)


def test_what_blocks_is_the_last_to_go_and_what_went_is_counted() -> None:
    reviews = [review(number, "x" * 300, 40, 20, "warn") for number in range(200)]
    reviews.append(review(999, "the one", 1, 2, "block"))

    text = written(Comparison("a", "b", tuple(reviews), (), (), 0))

    assert "**Blocked** by total (r999)." in text
    assert "<details open>\n<summary><b>the one 999 (r999)</b>: blocked by total</summary>" in text
    left = re.search(r"\*\*Left out, as a comment holds only so much: (\d+) entries and (\d+) recipes: ", text)
    assert left is not None
    shown = text.count("<summary><b>")
    assert 201 == shown + int(left[2])
    assert int(left[1]) == sum(int(n) for n in re.findall(r"\*(\d+) entr(?:y|ies) of this part left out", text))


def test_all_of_a_small_one_is_there() -> None:
    text = written(Comparison("a", "b", (review(1, "small", 20, 4, "block"),), (), (), 0))

    assert all(f"small {at}: was 1, now 2" in text for at in range(20))
    assert "8 changes more" in text
    assert "left out" not in text.lower()


def test_a_part_is_cut_between_its_entries() -> None:
    table = "#### P\n\n| a |\n| --- |\n" + "".join(f"| {n} |\n" for n in range(100)) + "\n"

    text, gone = cut(table, 200)

    assert 200 >= len(text)
    rows = re.findall(r"^\| (\d+) \|$", text, re.MULTILINE)
    assert [str(n) for n in range(100 - gone)] == rows
    assert f"*{gone} entries of this part left out.*" in text
    assert text.startswith("#### P\n\n| a |\n| --- |\n")
