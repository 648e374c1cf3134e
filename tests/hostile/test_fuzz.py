"""The fuzzer of our own holds, and finds what is put there to be found."""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

import pytest

from tests.hostile import fuzz
from tests.hostile.mutate import mutated

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.slow
def test_two_thousand_broken_workspaces(tmp_path: Path) -> None:
    """A process of its own, since it limits its memory to 300 MB."""
    command = [sys.executable, "-m", "tests.hostile.fuzz", "--seed", "2026", "--cases", "2000", "--out", str(tmp_path)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)

    assert done.returncode == 0, done.stdout + done.stderr


def test_some_broken_workspaces(tmp_path: Path) -> None:
    assert not fuzz.run(2027, range(60), float("inf"), tmp_path)


def test_a_case_is_made_again_from_its_number() -> None:
    known = fuzz.bases()

    assert fuzz.made(3, 17, known) == fuzz.made(3, 17, known)
    assert fuzz.made(3, 17, known) != fuzz.made(4, 17, known)


def test_a_workspace_has_every_kind_of_file() -> None:
    folders = {name.rpartition("/")[0] for base in fuzz.bases() for name in base}

    assert {"", "ingredients", "equipment", "rules", "lots", "batches", "evidence", "premixes"} <= folders


def test_what_fails_is_found_and_shrunk(monkeypatch: pytest.MonkeyPatch) -> None:
    """A crash planted in one line is found, told apart by its place, and shrunk to that line."""

    def crash(case: fuzz.Case) -> None:
        if any(b"boom" in text for text in case.ours.values()):
            raise KeyError("boom")

    monkeypatch.setattr(fuzz, "INVARIANTS", ((crash, ""),))
    base = {"a.toml": b"x = 1\ny = 2\n", "b.toml": b"z = 3\n"}
    broken = base | {"a.toml": b"x = 1\nw = 5\nboom\ny = 2\n", "b.toml": b"z = 4\n"}
    case = fuzz.Case(0, base, broken, base)
    key = fuzz.failure(case)
    small = fuzz.shrunk(case, key)

    assert key == "crash: KeyError at nowhere of ours"
    assert small.ours["a.toml"] == b"boom\n"
    assert small.ours.get("b.toml", base["b.toml"]) == base["b.toml"]


def test_mutations_change_something_mostly() -> None:
    base = fuzz.bases()[0]
    changed = sum(mutated(base, random.Random(number)) != base for number in range(200))

    assert changed > 180
