"""What loosens approving is named in a comparison of two workspaces; signatures are tried in tests/approvals."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from formula_vcs.review.guarded_files import guarded_approvals
from formula_vcs.workspace.snapshot import Files, Snapshot
from tests.conftest import MINIMAL

RULE = "guard-approval"
TRUST = """\
[person.ailsa]
name = "Ailsa"
roles = ["QA", "trust"]
emails = ["ailsa@example.org"]
keys = ["ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIJNZ3Rjz0mTDKkRC3Oj8Yf7Yw4oYl0P3cWnEo9v8lVgZ a"]
"""
ROWS = '\n[[approval]]\nroles = ["RD", "QA"]\n'
BASE = {**MINIMAL, "workspace.toml": MINIMAL["workspace.toml"] + ROWS, "approvals/trust.toml": TRUST}


def _said(files: Mapping[str, str | None], base: Mapping[str, str] = BASE) -> list[tuple[str, str]]:
    new = {path: text for path, text in {**base, **files}.items() if text is not None}
    touched = frozenset(path for path in {*base, *new} if base.get(path) != new.get(path))
    found = list(guarded_approvals(Snapshot(Files(base)), Snapshot(Files(new)), touched, {}))
    assert {one.finding().rule for one in found} <= {RULE}
    return [(one.file, one.words) for one in found]


@pytest.mark.parametrize(
    ("files", "file", "words"),
    [
        ({"approvals/trust.toml": None}, "approvals/trust.toml", "is taken away"),
        ({"approvals/trust.toml": "[person"}, "approvals/trust.toml", "cannot be read any more"),
        ({"approvals/trust.toml": TRUST.replace('"QA", ', "")}, "approvals/trust.toml", "roles QA, trust \u2192 trust"),
        (
            {"approvals/trust.toml": f"changes = 1\n{TRUST.replace('ailsa@', 'a@')}"},
            "approvals/trust.toml",
            "addresses",
        ),
        ({"workspace.toml": MINIMAL["workspace.toml"]}, "workspace.toml", "without the approval of RD, QA"),
        ({"workspace.toml": MINIMAL["workspace.toml"] + ROWS.replace('"RD", ', "")}, "workspace.toml", "of RD from"),
        (
            {"workspace.toml": MINIMAL["workspace.toml"] + ROWS + 'unapproved = "mark"\n'},
            "workspace.toml",
            "only marked",
        ),
        ({"cream.toml": MINIMAL["cream.toml"].replace("\n\n", '\nproduct = "premix"\n\n', 1)}, "cream.toml", "RD, QA"),
    ],
)
def test_it_is_said(files: Mapping[str, str | None], file: str, words: str) -> None:
    ((where, said),) = _said(files)

    assert file == where
    assert words in said


@pytest.mark.parametrize(
    "files",
    [
        {"workspace.toml": MINIMAL["workspace.toml"] + ROWS.replace('"RD"', '"RD", "regulatory"')},
        {"workspace.toml": MINIMAL["workspace.toml"] + ROWS + 'note = "x"\n'},
        {"approvals/trust.toml": f"# said with a comment\n{TRUST}"},
        {"cream.toml": MINIMAL["cream.toml"].replace("5.00", "4.00")},
        {"cream.toml": None},
    ],
)
def test_what_asks_for_more_or_the_same_is_not(files: Mapping[str, str | None]) -> None:
    assert [] == _said(files)
