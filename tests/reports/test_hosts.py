"""Formats that code hosts read: valid, at paths from the repository's top, known again after a rebase."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import unquote

import pytest

from formula_vcs.model.finding import Finding
from formula_vcs.reports.hosts import remarks
from tests import helpers_hosts
from tests.commands.bench_repo import POLISH, SHOP, SWAPPED, TONER, run

Make = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]

# three findings: a total of 101, a shear that mills, an accepted finding that nothing raises
BROKEN = SWAPPED.replace('water             = "to 100"', "water             = 65.10").replace(
    "[spec]", '[[accept]]\nrule = "rest"\nabout = "x"\nwhy = "no reason"\n\n[spec]'
)


@pytest.fixture
def shop(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Give a committed shop in a folder of a repository, a broken recipe in it, and stand in a folder of it."""
    repo = git_repo({f"lab/{path}": text for path, text in SHOP.items()})
    repo.write({"lab/polish.toml": BROKEN, "lab/toner.toml": TONER.partition("[[step]]")[0]})
    monkeypatch.chdir(repo.path / "lab" / "ingredients")
    return repo


def findings(capsys: Capsys, *words: str) -> Any:
    return run(capsys, "check", *words, "--format", "json").json("check")["findings"]


def read(capsys: Capsys, command: str, kind: str, *words: str) -> Any:
    return getattr(helpers_hosts, kind)(run(capsys, command, *words, "--format", kind).out)


@pytest.mark.parametrize("command", ["check", "review"])
@pytest.mark.parametrize("kind", ["github", "gitlab", "sarif", "junit"])
def test_every_format_is_valid_and_blocks_as_the_text_does(shop: Any, capsys: Capsys, command: str, kind: str) -> None:
    said = run(capsys, command, "--format", kind)

    assert 1 == said.status == run(capsys, command).status
    assert getattr(helpers_hosts, kind)(said.out)
    assert said.out == run(capsys, command, "--format", kind).out


def test_all_formats_say_the_same_findings_at_paths_from_the_top(shop: Any, capsys: Capsys) -> None:
    expected = [("lab/" + f["file"].removeprefix("../"), f["line"], f["rule"]) for f in findings(capsys)]
    assert {"block", "note"} <= {f["severity"] for f in findings(capsys)}

    assert expected == [(c["file"], int(c["line"]), c["title"]) for c in read(capsys, "check", "github")]
    assert expected == [
        (i["location"]["path"], i["location"]["lines"]["begin"], i["check_name"])
        for i in read(capsys, "check", "gitlab")
    ]
    results = read(capsys, "check", "sarif")["runs"][0]["results"]
    places = [result["locations"][0]["physicalLocation"] for result in results]
    assert expected == [
        (unquote(place["artifactLocation"]["uri"]), place["region"]["startLine"], result["ruleId"])
        for place, result in zip(places, results, strict=True)
    ]
    cases = [case for suite in read(capsys, "check", "junit") for case in suite]
    assert [rule for _, _, rule in expected] == [case.name.partition(" ")[0] for case in cases[1:]]


def test_severities_are_the_hosts_own(shop: Any, capsys: Capsys) -> None:
    severities = [f["severity"] for f in findings(capsys)]

    told = {
        "github": [c["command"] for c in read(capsys, "check", "github")],
        "gitlab": [i["severity"] for i in read(capsys, "check", "gitlab")],
        "sarif": [r["level"] for r in read(capsys, "check", "sarif")["runs"][0]["results"]],
    }

    names = {
        "github": {"block": "error", "warn": "warning", "note": "notice"},
        "gitlab": {"block": "blocker", "warn": "major", "note": "info"},
        "sarif": {"block": "error", "warn": "warning", "note": "note"},
    }
    assert {kind: [names[kind][severity] for severity in severities] for kind in names} == told


@pytest.mark.parametrize("kind", ["github", "gitlab", "sarif", "junit"])
def test_nothing_found_is_valid_too(
    git_repo: Make, monkeypatch: pytest.MonkeyPatch, minimal: dict[str, str], capsys: Capsys, kind: str
) -> None:
    syrup = {"cream.toml": minimal["cream.toml"].replace("glycerin = 5.00", "glycerin = 70.00")}  # nothing grows in it
    monkeypatch.chdir(git_repo({**minimal, **syrup}).path)

    said = run(capsys, "check", "--format", kind)

    assert 0 == said.status
    helpers_hosts.__dict__[kind](said.out)
    if kind == "junit":
        assert ["verdict"] == [case.name for suite in helpers_hosts.junit(said.out) for case in suite]


def test_outside_git_paths_start_where_one_stands(
    tmp_path: Any, monkeypatch: pytest.MonkeyPatch, capsys: Capsys
) -> None:
    for path, text in {**SHOP, "polish.toml": BROKEN}.items():
        (tmp_path / "shed" / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "shed" / path).write_text(text, "utf-8")
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
    monkeypatch.chdir(tmp_path)

    assert {"shed/polish.toml"} == {c["file"] for c in read(capsys, "check", "github") if c["command"] == "error"}


def test_a_review_says_new_findings_with_their_cause_and_those_that_still_block(shop: Any, capsys: Capsys) -> None:
    shop.commit("broken")
    shop.write({"lab/polish.toml": BROKEN.replace('"natural-origin at least 99 %"', '"natural at least 99 %"')})

    told = read(capsys, "review", "github")

    texts = {c["title"]: c["message"] for c in told}
    assert {"total", "shear-at-most", "accept-unused", "claim-fails", "guard-claim"} == set(texts)
    assert "\nbecause " in texts["claim-fails"]
    assert "\nbecause " not in texts["total"] + texts["accept-unused"]


def test_fingerprints_survive_moved_lines_and_other_numbers(shop: Any, capsys: Capsys) -> None:
    before = read(capsys, "check", "gitlab")
    shop.write({
        "lab/polish.toml": "# a comment\n\n" + BROKEN.replace("= 65.10", "= 64.90").replace('"12 min"', '"14 min"')
    })  # fmt: skip
    after = read(capsys, "check", "gitlab")

    assert {i["fingerprint"] for i in before} == {i["fingerprint"] for i in after}
    assert {i["location"]["lines"]["begin"] for i in before} != {i["location"]["lines"]["begin"] for i in after}
    assert {i["description"] for i in before} != {i["description"] for i in after}
    hashes = [r["partialFingerprints"] for r in read(capsys, "check", "sarif")["runs"][0]["results"]]
    assert [i["fingerprint"] for i in after] == [h["gitFormula/v1"] for h in hashes]
    assert [f"{i['fingerprint']}:1" for i in after] == [h["primaryLocationLineHash"] for h in hashes]


def test_a_fingerprint_does_not_hang_on_what_else_is_wrong(shop: Any, capsys: Capsys) -> None:
    """Two workspaces may have a recipe of the same id, broken in the same way."""
    shop.write({"lab/polish.toml": BROKEN})
    alone = read(capsys, "check", "gitlab")
    shop.write({f"a lab/{path}": text for path, text in {**SHOP, "polish.toml": BROKEN}.items()})
    both = read(capsys, "check", "gitlab")

    def of(issues: Any, folder: str) -> set[str]:
        return {i["fingerprint"] for i in issues if i["location"]["path"].startswith(folder)}

    assert of(alone, "lab/") == of(both, "lab/")
    assert set() == of(both, "lab/") & of(both, "a lab/")
    assert of(both, "lab/")


def test_twin_fingerprints_are_told_apart_by_place_whatever_their_order() -> None:
    twins = [Finding("total", "block", "m", "a.toml", recipe="a", line=line, column=1) for line in (9, 3, 5)]

    def names(findings: list[Finding]) -> dict[int, str]:
        return {remark.line: remark.fingerprint for remark in remarks.of_check(findings)}

    assert names(twins) == names(twins[::-1])
    assert 3 == len(set(names(twins).values()))
    assert names(twins)[3] == twins[0].fingerprint


def test_what_an_ingredient_raises_is_said_once_in_a_review_of_many_recipes(shop: Any, capsys: Capsys) -> None:
    glycerin = SHOP["ingredients/glycerin.toml"]
    shop.write({"lab/polish.toml": POLISH, "lab/ingredients/glycerin.toml": glycerin.replace("= 100,", "= 99,")})

    told = read(capsys, "review", "gitlab")

    assert 1 == sum(i["location"]["path"] == "lab/ingredients/glycerin.toml" for i in told)


def test_rules_bring_their_pages(shop: Any, capsys: Capsys) -> None:
    rules = read(capsys, "check", "sarif")["runs"][0]["tool"]["driver"]["rules"]

    pages = {rule["id"]: rule["help"]["text"] for rule in rules}
    assert "Why:" in pages["shear-at-most"]
    assert "Source: " in pages["total"]


def test_a_path_of_any_bytes_is_percent_encoded_in_sarif() -> None:
    from formula_vcs.reports.hosts.sarif import uri

    # RFC 3986, 2.1: every byte outside the unreserved set
    assert "a%20b/%C3%A9%25%23%3F%0A.toml" == uri("a b/\u00e9%#?\n.toml")
    assert "%FF.toml" == uri("\udcff.toml")
    assert "-x%3Ay" == uri("-x:y")


def test_the_horizon_has_no_such_format(shop: Any, capsys: Capsys) -> None:
    said = run(capsys, "check", "--horizon", "12m", "--format", "sarif")

    assert 2 == said.status
    assert "--horizon" in said.err
