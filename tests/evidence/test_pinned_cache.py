"""A version is worked out once for all commits that hold it unchanged, and for no other."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.git import repository
from tests.conftest import MINIMAL, GitRepo

PREMIX = {
    "ingredients/gel.toml": 'title = "Gel"\nrecipe = "gel"\n',
    "premixes/gel.toml": 'title = "Gel"\nproduct = "premix"\n\n[phase.A.charge]\nwater = "to 100"\n',
    "cream.toml": MINIMAL["cream.toml"].replace("glycerin = 5", "gel = 2\nglycerin = 5"),
}
RULE = '[[rule]]\nid = "{0}"\nkind = "limit"\nsubstances = ["Glycerin"]\nat_most = "1 %"\nbecause = "x"\nsource = "y"\n'


@pytest.fixture
def repo(git_repo: Callable[..., GitRepo]) -> GitRepo:
    """Give a workspace of one recipe with a premix."""
    return git_repo({**MINIMAL, **PREMIX})


def same(repo: GitRepo, files: dict[str, str]) -> bool:
    """Say whether a commit with other files shares its version of the recipe with the commit before."""
    before = repo.git("rev-parse", "HEAD")
    repo.commit("later", files)
    with PinnedVersions(repository.open_repo(repo.path, inherit=False), "") as pins:
        old, new = (pins.at(commit, "cream") for commit in (before, repo.git("rev-parse", "HEAD")))
        assert old.state == new.state == "found"
        assert old.commit != new.commit
        if old.hash != new.hash:
            assert old.formula is not new.formula
        return old.formula is new.formula


def test_what_it_does_not_rest_on_leaves_it_alone(repo: GitRepo) -> None:
    assert same(
        repo, {"other.toml": MINIMAL["cream.toml"], "batches/x.toml": "", "ingredients/z.toml": 'title = "Z"\n'}
    )


@pytest.mark.parametrize(
    "files",
    [
        {"cream.toml": PREMIX["cream.toml"].replace("gel = 2", "gel = 3")},
        {"ingredients/glycerin.toml": MINIMAL["ingredients/glycerin.toml"] + "\n[origin]\nnatural = 1\n"},
        {"premixes/gel.toml": PREMIX["premixes/gel.toml"] + "glycerin = 1\n"},
        {"workspace.toml": MINIMAL["workspace.toml"] + 'batch = "3 kg"\n'},
        {"rules/house.toml": RULE.format("house")},
        # the same id in another folder, which comes first
        {"ingredients/a/glycerin.toml": 'title = "Other glycerin"\n[substances]\nGlycerin = 100\n'},
    ],
)
def test_what_it_rests_on_makes_it_another(repo: GitRepo, files: dict[str, str]) -> None:
    assert not same(repo, files)


def test_a_rule_that_was_taken_away_makes_it_another(repo: GitRepo) -> None:
    repo.commit("rules", {"rules/a.toml": RULE.format("a"), "rules/b.toml": RULE.format("b")})
    before = repo.git("rev-parse", "HEAD")
    repo.git("rm", "-q", "rules/b.toml")
    repo.git("commit", "-qm", "less")
    with PinnedVersions(repository.open_repo(repo.path, inherit=False), "") as pins:
        old, new = (pins.at(commit, "cream") for commit in (before, repo.git("rev-parse", "HEAD")))
        assert old.formula is not new.formula


def test_a_name_that_leads_nowhere_hangs_on_all_files(repo: GitRepo) -> None:
    repo.commit("missing", {"cream.toml": PREMIX["cream.toml"].replace("gel = 2", "gelly = 2")})

    assert not same(repo, {"ingredients/jelly.toml": 'title = "Jelly"\n[substances]\nWater = 100\n'})
