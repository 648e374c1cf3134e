"""Batches of versions that nobody approved: refused or marked, and old records judged by their own time."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

from tests.approvals.helpers_approvals import ASKING, PEOPLE, House, house
from tests.conftest import MINIMAL, GitRepo

Make = Callable[..., GitRepo]
Capsys = pytest.CaptureFixture[str]
SCHEMAS = Path(__file__).resolve().parents[2] / "formula_vcs" / "reports" / "schemas"
LESS = MINIMAL["cream.toml"].replace("5.00", "4.00")
CREAM = MINIMAL["cream.toml"].replace('title = "Cream"\n', 'title = "Cream"\nproduct = "hand cream"\n')


@pytest.fixture
def shed(git_repo: Make, tmp_path: Path) -> House:
    return house(git_repo(), tmp_path / "keys")


def _batch(shed: House, name: str, *more: str) -> int:
    return shed.run("batch", "cream", "--size", "10 kg", "--id", name, "--date", "2026-03-02", "--by", "Una", *more)


def _findings(shed: House, capsys: Capsys, *more: str) -> list[tuple[str, str, str]]:
    capsys.readouterr()
    shed.run("check", "--format", "json", "--as-of", "2026-12-01", *more)
    found = json.loads(capsys.readouterr().out)["findings"]
    return [(one["severity"], one["file"], one["message"]) for one in found if one["rule"] == "batch-approved"]


def test_a_batch_of_what_nobody_approved_is_refused_until_all_have(shed: House, capsys: Capsys) -> None:
    assert 1 == _batch(shed, "b1")
    out = capsys.readouterr().out
    assert "[batch-approved]" in out
    assert "not approved as RD: nobody has approved it" in out
    shed.approved("quentin", "QA")
    assert 1 == _batch(shed, "b1")
    shed.approved("rhea", "RD")
    assert 0 == _batch(shed, "b1")
    shed.commit()
    assert [] == _findings(shed, capsys)

    shed.commit({"cream.toml": LESS})
    capsys.readouterr()
    assert 1 == _batch(shed, "b2")
    assert "approved an earlier version" in capsys.readouterr().out


def test_the_branch_cannot_ask_for_less(shed: House) -> None:
    shed.repo.git("checkout", "-q", "-b", "evil")
    shed.commit({"workspace.toml": MINIMAL["workspace.toml"]})

    assert 1 == _batch(shed, "b1")


def test_a_house_that_marks_makes_it_and_says_so(git_repo: Make, tmp_path: Path, capsys: Capsys) -> None:
    shed = House(git_repo(), tmp_path / "keys")
    marks = ASKING + 'unapproved = "mark"\n'
    shed.commit({**MINIMAL, "workspace.toml": marks, "approvals/trust.toml": shed.trust()})

    assert 0 == _batch(shed, "b1")
    assert "NOT APPROVED by RD" in " ".join(capsys.readouterr().out.split())
    assert 'unapproved = "RD, QA"' in (shed.repo.path / "batches" / "b1.toml").read_text("utf-8").replace("  ", "")
    shed.commit()
    (found,) = _findings(shed, capsys)
    assert ("warn", "batches/b1.toml") == found[:2]


@pytest.mark.parametrize(
    ("row", "refused"),
    [
        ('product = ["Hand Cream"]', True),
        ('product = ["face toner"]', False),
        ('recipe = ["cream"]', True),
        ('recipe = ["other"]', False),
        ("", True),
    ],
)
def test_rows_are_about_products_or_recipes(git_repo: Make, tmp_path: Path, row: str, refused: bool) -> None:
    shed = House(git_repo(), tmp_path / "keys")
    text = f'{MINIMAL["workspace.toml"]}\n[[approval]]\nroles = "QA"\n{row}\n'
    shed.commit({**MINIMAL, "workspace.toml": text, "cream.toml": CREAM, "approvals/trust.toml": shed.trust()})

    assert int(refused) == _batch(shed, "b1")


def test_a_record_is_judged_by_what_was_approved_when_it_was_made(
    git_repo: Make, tmp_path: Path, capsys: Capsys
) -> None:
    shed = House(git_repo(), tmp_path / "keys")
    shed.commit(MINIMAL)
    assert 0 == _batch(shed, "before")
    shed.commit()
    shed.commit({"workspace.toml": ASKING, "approvals/trust.toml": shed.trust()})
    shed.approved("quentin", "QA")
    shed.approved("rhea", "RD")
    assert 0 == _batch(shed, "good")
    shed.commit()
    shed.approved("quentin", "QA", "--withdraw", "drifts")
    assert 1 == _batch(shed, "late")
    old = (shed.repo.path / "batches" / "good.toml").read_text("utf-8")
    shed.commit({"batches/copied.toml": old})

    found = _findings(shed, capsys)
    assert ["batches/copied.toml"] == [file for _, file, _ in found]
    assert "withdrawn by Quentin: drifts" in found[0][2]
    assert "warn" == found[0][0]  # it is open
    # the old record, edited to name the version of today, is of today
    commit = shed.repo.git("rev-parse", "HEAD")
    text = "\n".join(f'commit = "{commit}"' if line.startswith("commit") else line for line in old.splitlines())
    shed.commit({"batches/before.toml": text + "\n"})
    assert ["batches/before.toml", "batches/copied.toml"] == sorted(file for _, file, _ in _findings(shed, capsys))


def test_a_closed_record_blocks_unless_somebody_decided(shed: House, capsys: Capsys) -> None:
    shed.approved("quentin", "QA")
    shed.approved("rhea", "RD")
    assert 0 == _batch(shed, "b1")
    text = (shed.repo.path / "batches" / "b1.toml").read_text("utf-8")
    shed.commit({"cream.toml": LESS}, by="mako")
    commit = shed.repo.git("rev-parse", "HEAD")
    text = "\n".join(f'commit = "{commit}"' if line.startswith("commit") else line for line in text.splitlines())
    text = text.replace("date ", "closed = 2026-03-03\ndate ", 1)
    shed.commit({"batches/b1.toml": text + "\n"})
    assert ["block"] == [severity for severity, _, _ in _findings(shed, capsys)]
    row = '\n[[deviation]]\nabout = "approval"\nwhy = "pilot, not for sale"\ndecided_by = "Ailsa"\n'
    shed.repo.write({"batches/b1.toml": text + "\n" + row})

    assert ["note"] == [severity for severity, _, _ in _findings(shed, capsys)]


def test_a_batch_by_a_key_revoked_since_is_a_warning(shed: House, capsys: Capsys) -> None:
    shed.approved("zoe", "QA")
    shed.approved("rhea", "RD")
    assert 0 == _batch(shed, "b1")
    shed.commit()
    people = {name: roles for name, roles in PEOPLE.items() if name != "zoe"}
    more = f'[[revoked]]\nkey = "{shed.public("zoe")}"\nwhy = "stolen"\n'
    shed.commit({"approvals/trust.toml": shed.trust(people, more)})
    for who in ("quentin", "rhea"):
        shed.repo.git("config", "user.signingkey", str(shed.key(who)))
        assert 0 == shed.run("approve", "--trust", "--yes")
        shed.commit(by=who)

    (found,) = _findings(shed, capsys)
    assert "warn" == found[0]
    assert "approved when it was made, by a key that was revoked since" in found[2]


def test_show_says_it_in_every_format(shed: House, capsys: Capsys) -> None:
    shed.approved("quentin", "QA", "--condition", "keep | cool")
    capsys.readouterr()
    assert 0 == shed.run("show", "cream", "--approvals")
    text = capsys.readouterr().out
    assert "not approved (RD)" in text
    assert "QA, Quentin approves 498b9d5a821a" in text
    assert 0 == shed.run("show", "cream", "--approvals", "--format", "markdown")
    assert "keep \\| cool" in capsys.readouterr().out
    assert 0 == shed.run("show", "cream", "--approvals", "--format", "json")
    whole = json.loads(capsys.readouterr().out)
    jsonschema.validate(whole, json.loads((SCHEMAS / "show.json").read_text("utf-8")))
    data = whole["approvals"]
    assert [("RD", "not approved"), ("QA", "approved")] == [(role["role"], role["state"]) for role in data["roles"]]
    assert [True] == [one["counts"] for one in data["decisions"]]


def test_a_branch_that_calls_it_another_product_is_asked_for_no_less(git_repo: Make, tmp_path: Path) -> None:
    shed = House(git_repo(), tmp_path / "keys")
    rows = f'{MINIMAL["workspace.toml"]}\n[[approval]]\nroles = "QA"\nproduct = "hand cream"\n'
    shed.commit({**MINIMAL, "workspace.toml": rows, "cream.toml": CREAM, "approvals/trust.toml": shed.trust()})
    shed.repo.git("checkout", "-q", "-b", "sly")
    shed.commit({"cream.toml": CREAM.replace("hand cream", "premix")})

    assert 1 == _batch(shed, "b1")


def test_the_log_names_who_approved_which_version(shed: House, capsys: Capsys) -> None:
    shed.approved("quentin", "QA", "--condition", "keep cool")
    shed.commit({"cream.toml": LESS})
    shed.approved("rhea", "RD")
    capsys.readouterr()
    assert 0 == shed.run("log", "cream")
    newest, oldest = [line for line in capsys.readouterr().out.splitlines() if "approved: " in line]
    assert newest.endswith("approved: RD")
    assert oldest.endswith("approved: QA")
    assert 0 == shed.run("log", "cream", "--format", "markdown")
    assert "approved by QA (Quentin, on condition)" in capsys.readouterr().out
    assert 0 == shed.run("log", "cream", "--format", "json")
    data = json.loads(capsys.readouterr().out)
    jsonschema.validate(data, json.loads((SCHEMAS / "log.json").read_text("utf-8")))
    assert [["QA"], ["RD"]] == [[one["role"] for one in version["approvals"]] for version in data["versions"]]
