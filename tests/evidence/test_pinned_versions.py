"""The version that a record names: there, unknown, cut off, without the recipe."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.git import repository
from tests.conftest import MINIMAL

Make = Callable[..., Any]
DAY = datetime.date(2026, 6, 1)


@pytest.fixture
def shop(git_repo: Make) -> Any:
    """Give a repository with two versions of the cream, in a folder of their own."""
    repo = git_repo()
    repo.commit("one", {f"shop/{path}": text for path, text in MINIMAL.items()})
    repo.commit("two", {"shop/cream.toml": MINIMAL["cream.toml"].replace("5.00", "6.00")})
    return repo


def pins(path: Path) -> PinnedVersions:
    return PinnedVersions(repository.open_repo(path, inherit=False), "shop")


def test_versions_are_found_by_full_and_short_id(shop: Any) -> None:
    commits = [shop.git("rev-parse", name) for name in ("HEAD~1", "HEAD")]
    with pins(shop.path) as found:
        versions = [found.at(commit, "cream") for commit in commits]
        assert ["found", "found"] == [version.state for version in versions]
        assert commits == [version.commit for version in versions]
        assert versions[0].hash != versions[1].hash
        assert found.at(commits[0][:8], "cream").hash == versions[0].hash
        assert [] == versions[0].blocking(DAY)


def test_what_is_not_to_be_had(shop: Any, tmp_path: Path) -> None:
    first = shop.git("rev-parse", "HEAD~1")
    with pins(shop.path) as found:
        assert "unknown" == found.at("0" * 40, "cream").state
        assert "unknown" == found.at("main", "cream").state
        assert "no-recipe" == found.at(first, "salve").state
    shop.commit("broken", {"shop/cream.toml": "= ="})
    with pins(shop.path) as found:
        assert "unreadable" == found.at(shop.git("rev-parse", "HEAD"), "cream").state
    shop.git("clone", "--quiet", "--depth=1", f"file://{shop.path}", str(tmp_path / "shallow"))
    with pins(tmp_path / "shallow") as found:
        assert "shallow" == found.at(first, "cream").state
    with PinnedVersions(None, "") as nowhere:
        assert "no-git" == nowhere.at(first, "cream").state
        assert "" == nowhere.at(first, "cream").hash


class TestRenamedFolder:
    """The workspace's folder had another name at the pinned commit."""

    def test_the_recipe_is_found_where_it_stood(self, shop: Any) -> None:
        first = shop.git("rev-parse", "HEAD")
        for folder in ("atelier", "atelier/deep"):
            with (
                PinnedVersions(repository.open_repo(shop.path, inherit=False), folder) as found,
                pins(shop.path) as before,
            ):
                assert "found" == found.at(first, "cream").state
                assert before.at(first, "cream").hash == found.at(first, "cream").hash
                assert "no-recipe" == found.at(first, "salve").state

    def test_a_workspace_that_was_there_is_the_one_that_is_meant(self, shop: Any) -> None:
        shop.commit("another", {"other/workspace.toml": 'title = "Other"\n'})
        with PinnedVersions(repository.open_repo(shop.path, inherit=False), "other") as found:
            assert "no-recipe" == found.at(shop.git("rev-parse", "HEAD"), "cream").state

    def test_of_two_that_hold_it_none_is_guessed(self, shop: Any) -> None:
        shop.commit("twice", {f"copy/{path}": text for path, text in MINIMAL.items()})
        with PinnedVersions(repository.open_repo(shop.path, inherit=False), "atelier") as found:
            assert "no-recipe" == found.at(shop.git("rev-parse", "HEAD"), "cream").state
            assert "found" == found.at(shop.git("rev-parse", "HEAD~1"), "cream").state


def test_a_version_that_did_not_pass(shop: Any) -> None:
    commit = shop.commit("short", {"shop/cream.toml": MINIMAL["cream.toml"].replace('"to 100"', "94")})
    with pins(shop.path) as found:
        assert ["total"] == [finding.rule for finding in found.at(commit, "cream").blocking(DAY)]


def test_many_commits_cost_one_process(shop: Any, tmp_path: Path) -> None:
    made = [
        shop.commit(f"n {n}", {"shop/cream.toml": MINIMAL["cream.toml"].replace("5.00", f"5.{n:02}")})
        for n in range(1, 9)
    ]
    trace = tmp_path / "trace"
    with pytest.MonkeyPatch.context() as patch, pins(shop.path) as found:
        patch.setenv("GIT_TRACE", str(trace))
        assert 8 == len({found.at(commit, "cream").hash for commit in made})

    assert 1 == trace.read_text().count("trace: built-in: git")


@pytest.mark.parametrize("reverse", [False, True])
def test_it_is_judged_by_the_law_of_the_day(git_repo: Make, *, reverse: bool) -> None:
    """Regulation (EC) No 1223/2009, Annex II/1380: not placed on the market from 23 August 2019."""
    repo = git_repo()
    cream = MINIMAL["cream.toml"].replace(
        'title = "Cream"', 'title = "Cream"\nproduct = "hand cream"\nmarkets = ["EU"]'
    )
    banned = 'title = "Lily"\n\n[substances]\n"Hydroxyisohexyl 3-Cyclohexene Carboxaldehyde" = 100\n'
    files = {"cream.toml": cream.replace("glycerin =", "lily = 0.10\nglycerin ="), "ingredients/lily.toml": banned}
    commit = repo.commit("lily", {**MINIMAL, **files})
    days = [datetime.date(2019, 8, day) for day in (1, 22, 23, 31)]

    with PinnedVersions(repository.open_repo(repo.path, inherit=False), "") as found:
        version = found.at(commit, "cream")
        said = {
            day: "prohibited" in {finding.rule for finding in version.blocking(day)}
            for day in sorted(days, reverse=reverse)
        }

    assert [False, False, True, True] == [said[day] for day in days]
