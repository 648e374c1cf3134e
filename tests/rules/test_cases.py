"""Every case of every rule: the exact set of findings of a small workspace.

``cases/RULE.toml`` holds the cases of a rule.  Each begins with the minimal workspace of ``tests/conftest.py``:
``edits`` are ``[file, old text, new text]``, ``files`` are whole files, ``gone`` are files taken away, ``links`` are
``{file: target}``, ``size`` is ``{file: bytes}`` of a comment; ``on_disk`` writes
the files, as links and size do.  The minimal workspace is water and glycerin, and many a
case a benzoate without a pH: what `OF_CHEMISTRY` and 'ph-agrees' say of them counts only in the files of those rules.
With ``history`` the workspace is a repository: each
of its lists of edits is one commit of the minimal workspace so edited, and the case's files name them by
``@commit:NUMBER@`` and ``@hash:NUMBER:RECIPE@``, numbers from 1; a table in place of a list has ``edits`` and
``files`` of that commit, and ``back_to`` takes the branch back to one of them.  ``expect`` has a line for each
finding, ``rule severity file:line:column | words of the message | ...``; a case without findings is a good one.
"""

from __future__ import annotations

import datetime
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from formula_vcs.evidence.judge_workspace import judge_workspace
from formula_vcs.git import repository
from formula_vcs.model.content_hash import content_hash
from formula_vcs.model.finding import Finding, worst_first
from formula_vcs.workspace.snapshot import Files, Snapshot, WorkTree

CASES = Path(__file__).with_name("cases")
DAY = datetime.date(2026, 6, 1)
OF_CHEMISTRY = frozenset(
    ["preserved", "acid-range", "free-acid-left", "preservative-range", "preservative-partner", "preservative-weakened"]
)


def _cases() -> list[Any]:
    return [
        pytest.param(case | {"of": path.stem}, id=f"{path.stem}: {case['name']}")
        for path in sorted(CASES.glob("*.toml"))
        for case in tomllib.loads(path.read_text("utf-8"))["case"]
    ]


def _texts(case: dict[str, Any], minimal: dict[str, str]) -> dict[str, str]:
    texts: dict[str, str] = minimal | case.get("files", {})
    for file, old, new in case.get("edits", ()):
        assert old in texts[file], f"'{old}' is not in {file}"
        texts[file] = texts[file].replace(old, new, 1)
    for file in case.get("gone", ()):
        del texts[file]
    for file, size in case.get("size", {}).items():
        texts[file] = texts.get(file, "") + "#" * size
    return texts


def _on_disk(texts: dict[str, str], links: dict[str, str], folder: Path) -> WorkTree:
    root = folder / "workspace"
    for file, text in texts.items():
        (root / file).parent.mkdir(parents=True, exist_ok=True)
        (root / file).write_text(text, "utf-8")
    (folder / "secret.toml").write_text('title = "Secret"\n', "utf-8")
    for file, target in links.items():
        (root / file).symlink_to(target)
    return WorkTree(root)


def _with_history(case: dict[str, Any], minimal: dict[str, str], repo: Any) -> list[Finding]:
    """Commit the versions of a case, and judge its files as they lie there afterwards."""
    texts = _texts(case, minimal)
    written = [_texts(one if isinstance(one, dict) else {"edits": one}, minimal) for one in case["history"]]
    for number, version in enumerate(written, 1):
        commit = repo.commit(f"Version {number}", version)
        texts, *written[number:] = (
            _pinned(later, str(number), commit, version) for later in (texts, *written[number:])
        )
    if "back_to" in case:
        repo.git("reset", "--quiet", "--hard", f"HEAD~{len(written) - case['back_to']}")
    repo.write(texts)
    for path in minimal.keys() - texts.keys():
        (repo.path / path).unlink()
    found = repository.open_repo(repo.path, inherit=False)
    with Snapshot(WorkTree(repo.path)) as snapshot:
        return sorted((snapshot.place(finding) for finding in judge_workspace(snapshot, DAY, found)), key=worst_first)


def _pinned(texts: dict[str, str], number: str, commit: str, version: dict[str, str]) -> dict[str, str]:
    def hash_of(match: re.Match[str]) -> str:
        with Snapshot(Files(version)) as snapshot:
            recipe = snapshot.recipe(match[1])
            assert recipe is not None
            return content_hash(recipe, snapshot.formula(recipe).premixes)

    return {
        path: re.sub(rf"@hash:{number}:([a-z-]+)@", hash_of, text.replace(f"@commit:{number}@", commit))
        for path, text in texts.items()
    }


def _judged(case: dict[str, Any], minimal: dict[str, str], folder: Path) -> list[Finding]:
    texts = _texts(case, minimal)
    links = case.get("links", {})
    source = _on_disk(texts, links, folder) if links or case.get("size") or case.get("on_disk") else Files(texts)
    with Snapshot(source) as snapshot:
        return sorted((snapshot.place(found) for found in judge_workspace(snapshot, DAY)), key=worst_first)


def _line(finding: Finding) -> str:
    return f"{finding.rule} {finding.severity} {finding.file}:{finding.line}:{finding.column}"


@pytest.mark.parametrize("case", _cases())
def test_case(case: dict[str, Any], minimal: dict[str, str], tmp_path: Path, git_repo: Callable[..., Any]) -> None:
    history = "history" in case
    findings = _with_history(case, minimal, git_repo()) if history else _judged(case, minimal, tmp_path)
    if case["of"] not in OF_CHEMISTRY:
        findings = [finding for finding in findings if finding.rule not in OF_CHEMISTRY]
    if case["of"] != "ph-agrees":
        findings = [finding for finding in findings if finding.rule != "ph-agrees"]
    shown = "\n".join(f"{_line(finding)} | {finding.message}" for finding in findings)
    expected = [line.split(" | ") for line in case["expect"]]

    assert sorted(line for line, *_ in expected) == sorted(map(_line, findings)), shown
    for line, *words in expected:
        messages = [finding.message for finding in findings if _line(finding) == line]
        assert any(all(word in message for word in words) for message in messages), shown
