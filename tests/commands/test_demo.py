"""The demo with real git: what it builds, that it is the same everywhere, and that nothing of the user's is in it."""

from __future__ import annotations

import datetime
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from formula_vcs.cli import main
from formula_vcs.diff.change import Change
from formula_vcs.evidence.judge_workspace import judge_workspace
from formula_vcs.figures.figure import Terms
from formula_vcs.git import repository
from formula_vcs.review.compare import Comparison, compare
from formula_vcs.setup.demo_story import records
from formula_vcs.setup.shipped import texts
from formula_vcs.workspace.snapshot import Committed, Snapshot

ROOT = Path(__file__).resolve().parents[2]
DAY = datetime.date(2026, 6, 22)

Capsys = pytest.CaptureFixture[str]


def at(repo: Path, *words: str) -> str:
    """Run git in the demo and give what it prints."""
    done = subprocess.run(["git", *words], cwd=repo, check=True, capture_output=True)
    return done.stdout.decode().strip()


def clean(home: Path | None = None) -> dict[str, str]:
    """Give the environment of somebody with this home folder, and nothing of git in it."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("GIT_")}
    for name in ("HOME", "XDG_CONFIG_HOME", "CI"):
        kept.pop(name, None)
    return kept if home is None else kept | {"HOME": str(home)}


def demo(folder: Path, env: Mapping[str, str], *words: str) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own."""
    script = (
        "import sys; sys.path.insert(0, sys.argv[1]); from formula_vcs.cli import main; sys.exit(main(sys.argv[2:]))"
    )
    command = [sys.executable, "-c", script, str(ROOT), "demo", *words]
    return subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the demo once."""
    folder = tmp_path_factory.mktemp("demo")
    done = demo(folder, clean(folder), "island")
    assert 0 == done.returncode, done.stderr
    return folder / "island"


def snapshot(repo: Path, revision: str) -> Snapshot:
    found = repository.open_repo(repo, inherit=False)
    return Snapshot(Committed(found, repository.resolve(found, revision), "", revision))


def tips(repo: Path) -> str:
    return at(repo, "for-each-ref", "--format=%(refname) %(objectname)")


# What is built


def test_main_ends_with_the_shipped_files_byte_for_byte(built: Path) -> None:
    shipped = {path: text.encode() for path, text in texts("recipes").items()}
    paths = at(built, "ls-files").splitlines()

    assert sorted({*shipped, *records()}) == paths
    assert shipped == {path: (built / path).read_bytes() for path in paths if path in shipped}
    assert "" == at(built, "status", "--porcelain")
    assert "main" == at(built, "branch", "--show-current")


def test_git_finds_nothing_wrong(built: Path) -> None:
    assert "" == at(built, "fsck", "--strict", "--full")


def test_the_history_reads_as_a_development(built: Path) -> None:
    commits = at(
        built, "log", "--all", "--format=%an|%as|%P|%(trailers:key=Reason,valueonly,separator=%x20)"
    ).splitlines()
    people, days, parents, reasons = zip(*(line.split("|") for line in commits), strict=True)

    assert len(commits) >= 30
    assert 4 == len(set(people))
    assert "2025-06-02" == min(days)
    assert "2026-06-22" == max(days)
    assert all(reasons)
    assert [1, len(commits) - 2, 1] == [sum(len(of.split()) == count for of in parents) for count in (0, 1, 2)]
    assert ["main", "oral-care", "proposal"] == at(built, "branch", "--format=%(refname:short)").split()
    assert ["main", "oral-care"] == at(built, "branch", "--merged=main", "--format=%(refname:short)").split()
    assert at(built, "merge-base", "main", "proposal") != at(built, "rev-parse", "main")


def test_each_commit_changes_something(built: Path) -> None:
    for commit in at(built, "rev-list", "--no-merges", "--min-parents=1", "--all").split():
        assert at(built, "diff-tree", "--name-only", "-r", f"{commit}~1", commit), commit


def test_main_moves_by_small_changes(built: Path) -> None:
    """Going backwards must not disturb the layout: what an edit does not say stays as it is shipped."""
    log = at(built, "log", "--first-parent", "--no-merges", "--diff-filter=M", "--numstat", "--format=", "-M", "main")

    assert max(int(added) for added, _, _ in (line.split("\t") for line in log.splitlines() if line)) <= 10


def test_every_commit_on_main_passes_its_check_on_its_day(built: Path) -> None:
    for line in at(built, "log", "--format=%H %as %s", "main").splitlines():
        commit, day, subject = line.split(" ", 2)
        with snapshot(built, commit) as files:
            found = [
                str(finding)
                for finding in judge_workspace(
                    files, datetime.date.fromisoformat(day), repository.open_repo(built, inherit=False)
                )
                if finding.severity == "block"
            ]
        assert [] == found, subject


# What is proposed


@pytest.fixture(scope="module")
def proposed(built: Path) -> Comparison:
    """Compare the proposal with where it began."""
    with snapshot(built, at(built, "merge-base", "main", "proposal")) as old, snapshot(built, "proposal") as new:
        return compare(old, new, Terms(DAY))


def test_the_proposal_is_blocked_for_the_intended_reasons_only(proposed: Comparison) -> None:
    blocking = {
        (review.recipe, item.finding.rule, *(item.causes or ()))
        for review in proposed.reviews
        for item in review.new
        if item.finding.severity == "block"
    }

    assert blocking == {
        ("face-polish", "shear-at-most", "grade-swap:phase/A/charge/silica-thickening"),
        ("face-polish", "limit", "amount:phase/D/charge/benzyl-alcohol-dha"),
    }
    assert [] == [f for review in proposed.reviews for f in review.still if f.severity == "block"]


def test_the_proposal_has_everything_in_it(proposed: Comparison) -> None:
    changes: list[Change] = [change for review in proposed.reviews for change in review.changes]

    assert {"amount", "moved", "grade-swap", "step-changed", "price", "ingredient"} <= {item.kind for item in changes}
    places = {change.where for change in changes}
    assert {"step/heat-water/shear", "step/emulsify/time", "ingredient/shea-butter/price"} <= places
    assert any(place.startswith("ingredient/glucoside-emulsifier/origin") for place in places)
    assert "lip-balm.toml" in proposed.touched
    assert ["face-polish", "hand-cream"] == [review.recipe for review in proposed.reviews if review.changes]


def test_it_says_what_it_built_what_blocks_and_what_to_try(tmp_path: Path, capsys: Capsys) -> None:
    folder = tmp_path / "an island"

    assert 0 == main(["demo", str(folder)])

    out = capsys.readouterr().out
    lines = out.splitlines()
    assert f"A throw-away repository, all of it invented: {folder}" == lines[0]
    count = at(folder, "rev-list", "--all", "--count")
    assert f"  {count} commits from 2025-06-02 to 2026-06-22" in lines
    assert "$ git formula review main...proposal" in lines
    assert any(line.startswith("blocked by shear-at-most (face-polish)") for line in lines)
    assert f"  cd '{folder}'" in lines
    assert 80 >= max(len(line) for line in lines if str(folder) not in line)
    assert lines.index("It blocks, as it is meant to. Such a review ends with 1, this demo with 0.") > 20


# That it is the same everywhere, and leaves alone what is the user's


def test_a_second_run_makes_the_same_ids(built: Path, tmp_path: Path) -> None:
    done = demo(tmp_path, clean(tmp_path) | {"TZ": "Asia/Tokyo", "GIT_DEFAULT_HASH": "sha256"}, "again")

    assert 0 == done.returncode, done.stderr
    assert tips(built) == tips(tmp_path / "again")


def test_it_works_without_a_home_and_in_a_folder_of_its_own_making(built: Path, tmp_path: Path) -> None:
    done = demo(tmp_path, clean() | {"TMPDIR": str(tmp_path)})

    assert 0 == done.returncode, done.stderr
    made = list(tmp_path.iterdir())
    assert [True] == [path.name.startswith("formula-demo-") for path in made]
    assert str(made[0]) in done.stdout
    assert tips(built) == tips(made[0])


def test_a_hostile_configuration_does_no_harm(built: Path, tmp_path: Path) -> None:
    home = tmp_path / "home"
    hook = home / "hooks" / "pre-commit"
    hook.parent.mkdir(parents=True)
    hook.write_text(f"#!/bin/sh\ntouch {tmp_path}/ran\nexit 1\n")
    hook.chmod(0o755)
    for name in ("post-checkout", "reference-transaction", "post-index-change"):
        (hook.parent / name).symlink_to(hook)
    template = home / "template" / "hooks"
    template.mkdir(parents=True)
    (template / "commit-msg").symlink_to(hook)
    (home / "attributes").write_text("*.toml text eol=crlf\n")
    (home / ".gitconfig").write_text(
        "[commit]\n\tgpgSign = true\n[gpg]\n\tprogram = /bin/false\n[init]\n\tdefaultBranch = trunk\n"
        f"\ttemplateDir = {home}/template\n[core]\n\thooksPath = {home}/hooks\n\tautocrlf = true\n"
        f"\tattributesFile = {home}/attributes\n[user]\n\tuseConfigOnly = true\n"
    )

    done = demo(tmp_path, clean(home), "island")

    island = tmp_path / "island"
    assert 0 == done.returncode, done.stderr
    assert tips(built) == tips(island)
    assert texts("recipes")["hand-cream.toml"].encode() == (island / "hand-cream.toml").read_bytes()
    assert [hook.name] == [path.name for path in hook.parent.iterdir() if not path.is_symlink()]
    assert not (tmp_path / "ran").exists()
    # somebody without a name can commit there, unsigned, and our hooks are those that run
    seen = {**clean(home), "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}"}
    again = ["git", "commit", "--quiet", "--allow-empty", "--no-verify", "--message=Try"]
    status = subprocess.run(["git", "status", "--porcelain"], cwd=island, env=seen, capture_output=True, check=True)
    assert b"" == status.stdout
    subprocess.run(again, cwd=island, env=seen, capture_output=True, check=True)
    assert "  armed: git diff speaks of recipes, and hooks check commits" in done.stdout.splitlines()


def test_a_repository_named_by_the_environment_is_left_alone(git_repo: Any, monkeypatch: Any, tmp_path: Path) -> None:
    mine = git_repo({"note.txt": "mine"}, name="mine")
    before = mine.git("rev-parse", "--all")
    monkeypatch.setenv("GIT_DIR", str(mine.path / ".git"))
    monkeypatch.setenv("GIT_INDEX_FILE", str(mine.path / ".git" / "index"))

    assert 0 == main(["demo", str(tmp_path / "island")])

    assert str(mine.path / ".git") == os.environ["GIT_DIR"]
    monkeypatch.delenv("GIT_DIR")
    monkeypatch.delenv("GIT_INDEX_FILE")
    assert before == mine.git("rev-parse", "--all")
    assert "" == mine.git("status", "--porcelain")
    assert "main" == at(tmp_path / "island", "branch", "--show-current")


# What is refused


def test_a_folder_that_is_not_empty_is_refused(tmp_path: Path, capsys: Capsys) -> None:
    (tmp_path / "letter.txt").write_text("mine")

    assert 2 == main(["demo", str(tmp_path)])

    assert "is not empty: nothing was written" in capsys.readouterr().err
    assert ["letter.txt"] == [path.name for path in tmp_path.iterdir()]
    assert 2 == main(["demo", str(tmp_path / "letter.txt")])
    assert "is no folder" in capsys.readouterr().err


def test_an_empty_folder_is_taken(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()

    assert 0 == main(["demo", str(tmp_path / "empty")])

    assert (tmp_path / "empty" / "hand-cream.toml").is_file()


@pytest.mark.parametrize("there", [True, False])
def test_without_git_nothing_is_left_behind(
    there: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys
) -> None:
    if there:
        (tmp_path / "island").mkdir()
    monkeypatch.setenv("PATH", str(tmp_path))

    assert 2 == main(["demo", str(tmp_path / "island")])

    assert "git does not run" in capsys.readouterr().err
    assert (["island"] if there else []) == [path.name for path in tmp_path.rglob("*")]


def test_a_reader_who_has_seen_enough_keeps_the_repository(tmp_path: Path) -> None:
    script = f'{sys.executable} -c "$0" demo island | head -n 1'
    code = (
        f"import sys; sys.path.insert(0, {str(ROOT)!r}); from formula_vcs.cli import main; sys.exit(main(sys.argv[1:]))"
    )
    subprocess.run(["sh", "-c", script, code], cwd=tmp_path, env=clean(tmp_path), check=True, capture_output=True)

    assert (tmp_path / "island" / ".git" / "HEAD").is_file()


def test_a_demo_that_was_killed_half_way_can_be_built_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "island"
    (folder / ".git" / "objects").mkdir(parents=True)
    (folder / ".formula-demo-unfinished").touch()
    (folder / "hand-cream.toml").write_text("half", "utf-8")

    assert main(["demo", str(folder)]) == 0, capsys.readouterr().err
    assert not (folder / ".formula-demo-unfinished").exists()
