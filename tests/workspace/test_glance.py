"""The glance of a hook before it loads anything: only where git holds the same, and never an old answer."""

from __future__ import annotations

import datetime
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from formula_vcs.cli import main
from formula_vcs.workspace import glance
from tests.conftest import MINIMAL, GitRepo
from tests.evidence.test_verdicts import CHANGES, CREAM, Shop

Make = Callable[..., GitRepo]
HOOK = ["check", "--staged", "--hook"]


@pytest.fixture
def shed(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> GitRepo:
    """Give a workspace without records, committed, in which a hook has looked."""
    monkeypatch.delenv("CI", raising=False)
    repo = git_repo(MINIMAL)
    monkeypatch.chdir(repo.path)
    assert glance.known() is None
    assert main(HOOK) == 0
    return repo


def test_an_untouched_workspace_needs_no_look(shed: GitRepo) -> None:
    assert glance.known() is not None
    shed.write({"notes.txt": "nothing of ours"})
    shed.git("add", "--all")
    assert glance.known() is not None
    shed.commit("notes")
    assert glance.known() is not None
    shed.write({CREAM: "not staged = ="})
    assert glance.known() is not None


def test_it_loads_next_to_nothing(shed: GitRepo) -> None:
    """The program ends before what it would judge with is imported."""
    script = (
        "import os, sys; sys.argv = ['x', 'check', '--staged', '--hook']; os._exit = lambda _status: None;"
        "from formula_vcs.__main__ import run; run();"
        "ours = sorted(name for name in sys.modules if name.startswith('formula_vcs'));"
        "print(*ours, *({'argparse', 'enum', 're'} & set(sys.modules)), file=sys.stderr)"
    )
    run = [sys.executable, "-c", script]
    subprocess.run(run, cwd=shed.path, check=False, capture_output=True)  # another way to start has another sys.path
    done = subprocess.run(run, cwd=shed.path, check=True, capture_output=True, text=True)
    assert done.stderr.split() == [
        "formula_vcs", "formula_vcs.__main__", "formula_vcs.git", "formula_vcs.git.asking_lightly",
        "formula_vcs.workspace", "formula_vcs.workspace.glance", "formula_vcs.workspace.tool_stamp",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "files",
    [
        {CREAM: MINIMAL[CREAM].replace("5.00", "6.00")},
        {CREAM: "= ="},
        {"ingredients/glycerol.toml": MINIMAL["ingredients/glycerin.toml"]},
        {"other/workspace.toml": 'title = "Other"\n'},
        {"ingredients/empty.toml": ""},
        {"rules/house.toml": ""},
    ],
)
def test_what_is_staged_of_ours_is_judged(shed: GitRepo, files: dict[str, str]) -> None:
    shed.write(files)
    shed.git("add", "--all")
    assert glance.known() is None
    main(HOOK)
    assert glance.known() is None


def test_what_is_taken_away_or_linked_is_judged(shed: GitRepo) -> None:
    shed.git("rm", "--quiet", "--cached", "ingredients/glycerin.toml")
    assert glance.known() is None
    shed.git("reset", "--quiet", "--hard")
    assert glance.known() is not None
    (shed.path / "lots").symlink_to("elsewhere")
    shed.git("add", "--all")
    assert glance.known() is None
    shed.commit("a link")
    main(HOOK)
    assert glance.known() is None


def test_what_was_announced_only_is_left_to_the_check(shed: GitRepo) -> None:
    shed.write({"new.toml": MINIMAL[CREAM]})
    shed.git("add", "--intent-to-add", "new.toml")
    assert glance.known() is None


@pytest.mark.parametrize(
    ("name", "value"),
    [("CI", "1"), ("GIT_DIR", "elsewhere"), ("GIT_WORK_TREE", "."), ("GIT_OBJECT_DIRECTORY", "x"),
     ("GIT_REPLACE_REF_BASE", "refs/x"), ("GIT_INDEX_FILE", "no-such-index")],
)  # fmt: skip
def test_where_git_is_sent_elsewhere_it_is_left_to_the_check(
    shed: GitRepo, monkeypatch: pytest.MonkeyPatch, name: str, value: str
) -> None:
    assert shed.path.is_dir()
    assert glance.known() is not None
    monkeypatch.setenv(name, value)
    assert glance.known() is None


def test_another_index_is_the_one_that_counts(shed: GitRepo, monkeypatch: pytest.MonkeyPatch) -> None:
    """As under ``git commit -a``: the hook is given an index of its own."""
    shed.write({CREAM: "= ="})
    monkeypatch.setenv("GIT_INDEX_FILE", str(shed.path / ".git" / "next-index"))
    shed.git("read-tree", "HEAD")
    assert glance.known() is not None
    shed.git("add", "--all")
    assert glance.known() is None


def test_replaced_objects_grafts_and_a_cut_history(shed: GitRepo) -> None:
    water, other = (shed.git("rev-parse", f"HEAD:{path}") for path in (CREAM, "ingredients/glycerin.toml"))
    shed.git("replace", water, other)
    assert glance.known() is None
    shed.git("pack-refs", "--all")
    assert glance.known() is None
    shed.git("replace", "--delete", water)
    for name in ("shallow", "info/grafts", "commondir"):
        file = shed.path / ".git" / name
        file.parent.mkdir(exist_ok=True)
        file.write_text("")
        assert glance.known() is None
        file.unlink()


def test_another_day_tool_or_configuration(shed: GitRepo, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(glance, "tool_stamp", lambda: "0" * 32)
        assert glance.known() is None
    file = _file(shed)
    said = glance.state()
    today = datetime.datetime.now().astimezone().date()
    for first, last, expected in ((-1, 1, ""), (0, 0, ""), (1, 2, None), (-2, -1, None)):
        days = [(today + datetime.timedelta(days=number)).isoformat() for number in (first, last)]
        file.write_bytes(glance.kept(said, days[0], days[1], 0))
        assert glance.known() == expected
    file.write_bytes(glance.kept(said, "0001-01-01", "9999-12-31", 2))
    assert glance.known() == "2 warnings were there before this commit already ('git formula check')"
    shed.git("config", "core.worktree", str(shed.path))
    assert glance.known() is None


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="no time zones to set")
def test_the_day_is_that_of_the_time_zone(shed: GitRepo, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where it is another day, the answer of this one is not given."""
    now = datetime.datetime.now(tz=datetime.UTC)
    zones = {(now + datetime.timedelta(hours=hours)).date().isoformat(): f"XYZ{-hours:+d}" for hours in (-12, 0, 12)}
    assert len(zones) > 1
    for day in zones:
        _file(shed).write_bytes(glance.kept(glance.state(), day, day, 0))
        for other, zone in zones.items():
            monkeypatch.setenv("TZ", zone)
            time.tzset()
            assert (glance.known() == "") is (day == other)
    monkeypatch.delenv("TZ")
    time.tzset()


def _file(repo: Any) -> Path:
    return Path(repo.path) / ".git" / "formula-vcs" / f"verdicts-{os.geteuid()}" / "glance"


@pytest.mark.parametrize("damage", [b"", b"\n", b"\xff", b"formula-vcs glance 1 0\n" + b"a\n" * 5, b"x" * 9000])
def test_damage_is_a_miss(shed: GitRepo, damage: bytes) -> None:
    _file(shed).write_bytes(damage)
    assert glance.known() is None
    assert main(HOOK) == 0
    assert glance.known() is not None


def test_what_others_may_write_is_not_trusted(shed: GitRepo, monkeypatch: pytest.MonkeyPatch) -> None:
    file = _file(shed)
    for path, mode in ((file, 0o622), (file, 0o660), (file.parent, 0o777)):
        before = path.stat().st_mode
        path.chmod(mode)
        assert glance.known() is None
        path.chmod(before)
    assert glance.known() is not None
    file.rename(file.with_name("other"))
    file.symlink_to("other")
    assert glance.known() is None
    data = file.read_bytes()
    file.unlink()
    file.write_bytes(data)
    monkeypatch.setattr(os, "geteuid", lambda: 4242)
    assert glance.known() is None


def test_a_version_that_no_branch_holds_is_looked_for_each_time(
    git_repo: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Git may take it away while every branch stands where it did."""
    monkeypatch.delenv("CI", raising=False)
    shop = Shop(git_repo())
    monkeypatch.chdir(shop.path)
    shop.git("checkout", "--quiet", "-b", "trial")
    shop.commit("a trial")
    shop.record("b-2", closed=False)
    shop.git("checkout", "--quiet", "main")
    main(HOOK)
    assert glance.known() is not None
    shop.commit("a batch of a trial")
    main(HOOK)
    assert glance.known() is None


@pytest.mark.slow
def test_changes_one_after_the_other(
    git_repo: Make, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever changes, with records too: a glance says what a whole check says, or nothing."""
    monkeypatch.delenv("CI", raising=False)
    shop = Shop(git_repo())
    monkeypatch.chdir(shop.path)
    glanced = 0
    for change in CHANGES.values():
        change(shop)
        for more in ((), ("add", "--all"), ("commit", "--quiet", "--allow-empty", "-mx")):
            if more:
                shop.git(*more)
            main(HOOK)
            capsys.readouterr()
            said = glance.known()
            if said is not None:
                glanced += 1
                assert main([*HOOK, "--no-cache"]) == 0
                assert f"{said}\n" * bool(said) == capsys.readouterr().out
    assert glanced
