"""``git formula propose``."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

import pytest

from tests.commands.bench_repo import SHOP, run

Make = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]
COMMENTED = """# the cream, as it was
title   = "Cream"   # working title
product = "hand cream"

[phase.A.charge]
water    = "to 100"
glycerin = 5.00     # nobody knows why five

[[step]]
id    = "mix"
into  = "main"
add   = ["A"]
shear = "low"
"""


@pytest.fixture
def shop(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Give a committed shop and stand in it."""
    repo = git_repo({**SHOP, "cream.toml": COMMENTED})
    monkeypatch.chdir(repo.path)
    return repo


def test_a_proposal_says_what_moves_and_what_was_not_asked(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "propose", "cream", "--target", "glycerin at most 4.005 %")
    assert said.status == 0
    assert "glycerin (A) 5.00 % 4.00 % −1.00" in " ".join(said.out.split())
    assert "takes the rest" in said.out
    assert "Not asked: texture, stability, preservation in use, safety." in said.out


def test_the_patch_applies_and_keeps_comments_and_layout(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "propose", "cream", "--target", "glycerin at most 4 %", "--patch", "less.patch")
    assert said.status == 0
    shop.git("apply", "less.patch")
    text = (shop.path / "cream.toml").read_text("utf-8")
    assert COMMENTED.replace("glycerin = 5.00     #", "glycerin = 4.00     #") == text


def test_a_patch_alone_goes_to_stdout(shop: Any, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    from formula_vcs.cli import main

    assert main(["propose", "cream", "--target", "glycerin at most 4 %", "--patch", "-"]) == 0
    out = capfdbinary.readouterr().out.decode()
    assert out.startswith("diff --git a/cream.toml b/cream.toml\n")
    assert "+glycerin = 4.00     # nobody knows why five" in out
    assert "Not asked" not in out


def test_targets_that_cannot_hold_together_are_named_and_no_more(shop: Any, capsys: Capsys) -> None:
    targets = ("glycerin at least 6 %", "cost at most 9 EUR/kg", "glycerin at most 5.5 %")
    words = [word for target in targets for word in ("--target", target)]
    said = run(capsys, "propose", "cream", *words, "--patch", "none.patch")
    assert said.status == 1
    assert "These cannot hold together" in said.out
    assert "- glycerin at least 6 %" in said.out
    assert "- glycerin at most 5.5 %" in said.out
    assert "- cost at most" not in said.out
    assert not (shop.path / "none.patch").exists()
    data = run(capsys, "propose", "cream", *words, "--format", "json").json("propose")
    assert data["conflict"] == ["glycerin at least 6 %", "glycerin at most 5.5 %"]
    assert data["found"] is False


def test_how_far_it_goes_is_said(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "propose", "cream", "--target", "glycerin at least 9 %", "--move", "glycerin 2 to 6.5 %")
    assert said.status == 1
    assert "as far as it goes is 6.50 %" in said.out


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        (["cream", "--move", "glycerol", "--target", "glycerin at most 4 %"], "did you mean 'glycerin'"),
        (["cream", "--move", "water", "--target", "glycerin at most 4 %"], "the balance"),
        (["cream", "--move", "glycerin 6 to 2 %", "--target", "glycerin at most 4 %"], "go up"),
        (["cream", "--move", "glycerin 2 to 120 %", "--target", "glycerin at most 4 %"], "0 to 100 %"),
        (["cream", "--move", "glycerin 2 kg", "--target", "glycerin at most 4 %"], "kg"),
        (["cream", "--move", "glycerin", "--move", "A/glycerin", "--target", "glycerin at most 4 %"], "twice"),
        (["cream", "--most", "0", "--target", "glycerin at most 4 %"], "from 1"),
        (["cream", "--most", "x", "--target", "glycerin at most 4 %"], "a number of charges"),
        (["cream"], "say what is to be reached"),
        (["none-of-it", "--target", "glycerin at most 4 %"], "no recipe is called"),
    ],
)
def test_what_cannot_be_done_is_one_line(shop: Any, capsys: Capsys, words: list[str], problem: str) -> None:
    said = run(capsys, "propose", *words)
    assert said.status == 2
    assert problem in said.err
    assert said.err.count("\n") == 1


def test_without_the_solver_three_charges_are_the_most(
    shop: Any, capsys: Capsys, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "highspy", None)
    said = run(capsys, "propose", "polish", "--target", "glycerin at least 15 %", "--most", "4")
    assert said.status == 2
    assert "pip install 'formula-vcs[solve]'" in said.err
    assert run(capsys, "propose", "polish", "--target", "glycerin at least 15 %").status == 0


def test_names_from_a_file_take_no_effect(shop: Any, capsys: Capsys) -> None:
    text = COMMENTED.replace('title   = "Cream"', 'title = "<script>alert(1)</script>"')
    shop.write({"cream.toml": text})
    page = run(capsys, "propose", "cream", "--target", "glycerin at most 4 %", "--format", "html").out
    assert "<script>" not in page
