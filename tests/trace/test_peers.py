"""A batch among its peers: which they are, through renames too, and what hides nothing and is hidden by nothing."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from formula_vcs.git import repository
from formula_vcs.history.versions import former_ids
from formula_vcs.trace.peers import Among, among
from tests.trace.helpers_trace import SHOP, Repo, batch, lotion, tracer

Make = Callable[..., Repo]
SOUND = ("22.4", "23.1", "22.8", "23.6", "22.9", "23.3", "23.0", "22.6")


@pytest.fixture
def repo(git_repo: Make) -> Repo:
    """Give the shop with eight sound batches of lotion, a day each from 1 February on."""
    made = git_repo(SHOP)
    head = made.git("rev-parse", "HEAD")
    for day, value in enumerate(SOUND, 1):
        made.write(lotion(f"l-{day}", head, results=f'viscosity = "{value} Pa*s"\n', day=f"2026-02-{day:02d}"))
    return made


def later(
    repo: Repo, name: str, value: str, day: str = "2026-02-20", *, recipe: str = "lotion", oil: str = "10 kg"
) -> None:
    text = lotion(
        name, repo.git("rev-parse", "HEAD"), results=f'viscosity = "{value} Pa*s"\n', day=day, weighed={"oil": oil}
    )
    repo.write({path: was.replace('recipe = "lotion"', f'recipe = "{recipe}"') for path, was in text.items()})


def asked(repo: Repo, name: str, recipe: str = "lotion", last: int = 20, former: frozenset[str] = frozenset()) -> Among:
    with tracer(repo.path) as found:
        return among(found.records, found.pins, batch(found, name), recipe, last, former=former)


def unusual(found: Among) -> list[tuple[str, ...]]:
    return [row.name for row in found.unusual]


def test_the_last_before_it_are_taken(repo: Repo) -> None:
    assert ["l-3", "l-4", "l-5"] == [peer.id for peer in asked(repo, "l-6", last=3).peers]


def test_a_batch_without_a_date_has_no_peers_and_is_none(repo: Repo) -> None:
    text = lotion("odd", repo.git("rev-parse", "HEAD"))["batches/odd.toml"]
    repo.write({"batches/odd.toml": text.replace("date = 2026-01-20\n", "")})

    assert () == asked(repo, "odd").peers
    assert "odd" not in [peer.id for peer in asked(repo, "l-8").peers]


def test_an_outlier_among_the_peers_does_not_hide_another(repo: Repo) -> None:
    """Of nine values one is 12.0: their median is 22.9 and their MAD 0.3, worked out by hand."""
    later(repo, "bad", "12.0", "2026-02-09")
    later(repo, "thin", "15.8")
    found = asked(repo, "thin")

    assert [("viscosity",)] == unusual(found)
    (row,) = [row for row in found.rows if row.kind == "result"]
    assert row.found is not None
    assert (9, Fraction("22.9")) == (row.found.others, row.found.median)
    assert pytest.approx(1.4826 * 1.107 * 0.3, rel=1e-3) == row.found.spread


def test_one_last_digit_is_never_unusual(repo: Repo) -> None:
    """Thirty batches of pH 5.0 and one of 5.1: two rounded values can be one."""
    head = repo.git("rev-parse", "HEAD")
    for number in range(30):
        repo.write(lotion(f"p-{number:02d}", head, results='pH = "5.0"\n', day=f"2026-03-{number + 1:02d}"))
    repo.write(lotion("near", head, results='pH = "5.1"\n', day="2026-04-02"))
    repo.write(lotion("far", head, results='pH = "5.3"\n', day="2026-04-02"))

    assert [] == unusual(asked(repo, "near", last=30))
    assert [("pH",)] == unusual(asked(repo, "far", last=30))


def test_a_weighing_one_digit_off_is_not_unusual(repo: Repo) -> None:
    """All peers weighed 10 kg to the kg; 11 is one digit off, 14 is four."""
    later(repo, "one", "22.9", oil="11 kg")
    later(repo, "four", "22.9", oil="14 kg")

    assert [] == unusual(asked(repo, "one"))
    assert [("B/oil",)] == unusual(asked(repo, "four"))


def test_peers_are_followed_through_a_rename(repo: Repo) -> None:
    repo.commit("Batches")
    repo.git("mv", "lotion.toml", "milk.toml")
    repo.commit("Another name")
    later(repo, "m-1", "15.8", recipe="milk")
    former = former_ids(repository.open_repo(repo.path), "", "milk")

    assert {"lotion"} == former
    assert () == asked(repo, "m-1", "milk").peers
    assert len(SOUND) == len(asked(repo, "m-1", "milk", former=former).peers)
    assert frozenset() == former_ids(repository.open_repo(repo.path), "", "unheard-of")
