"""Findings as code hosts take them: at a path from the repository's top, each with a fingerprint of its own."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from hashlib import sha256
from importlib import import_module
from typing import Final, TextIO

from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.values import dataclass
from formula_vcs.reports import review_document, review_extras
from formula_vcs.review.compare import Comparison
from formula_vcs.words.escape import shortened, terminal
from formula_vcs.words.late_pattern import late_pattern

# what one remark may say, in characters; hosts cut or refuse long ones, and a name can be a book
MOST: Final = 4000
_SURROGATE: Final = late_pattern("[\ud800-\udfff]")


@dataclass(frozen=True, slots=True)
class Remark:
    """One finding for a host.  ``text`` is harmless and may have several lines; ``path`` is as git has it."""

    rule: str
    severity: Severity
    path: str
    line: int
    column: int
    text: str
    fingerprint: str
    owner: str
    source: str


def write(form: str, found: list[Remark], command: str, *, blocked: bool, out: TextIO) -> None:
    """Write what a command says as a host takes it: ``form`` is github, gitlab, junit or sarif."""
    import_module(f"formula_vcs.reports.hosts.{form}").write(found, command, blocked=blocked, out=out)


def of_check(findings: Iterable[Finding]) -> list[Remark]:
    """Give the findings of a check, in their order."""
    return _with_fingerprints((finding, ()) for finding in findings)


def of_review(comparison: Comparison) -> list[Remark]:
    """Give what a change brings: its new findings with their causes, those still there that block, and what comes."""
    found: list[tuple[Finding, tuple[str, ...]]] = [(finding, ()) for finding, _ in review_extras.loosened(comparison)]
    for review in comparison.reviews:
        found += [(item.finding, tuple(review_document.because(item.causes, review.changes))) for item in review.new]
        found += [(finding, ()) for finding in review.still if finding.severity == "block"]
    found += [(finding, ()) for finding in review_extras.as_findings(comparison.reviews)]
    return _with_fingerprints(found)


def _with_fingerprints(found: Iterable[tuple[Finding, tuple[str, ...]]]) -> list[Remark]:
    """Give remarks; of one workspace's findings with one fingerprint all but the first, by place, get another from it.

    An ingredient's finding comes with every recipe that holds it, and is said once.
    """
    once: dict[tuple[str, str, int, int, str], tuple[Finding, tuple[str, ...]]] = {}
    for finding, because in found:
        once.setdefault((finding.fingerprint, *_place(finding)), (finding, because))
    told = list(once.values())
    counts: dict[str, int] = {}
    names: dict[tuple[str, str, int, int, str], str] = {}
    for finding, _ in sorted(told, key=lambda item: _place(item[0])):
        fingerprint = _of_workspace(finding)
        counts[fingerprint] = count = counts.get(fingerprint, 0) + 1
        names[finding.fingerprint, *_place(finding)] = fingerprint if count == 1 else _next(fingerprint, count)
    return [_remark(finding, because, names[finding.fingerprint, *_place(finding)]) for finding, because in told]


def _place(finding: Finding) -> tuple[str, int, int, str]:
    return finding.path, finding.line, finding.column, finding.message


def _of_workspace(finding: Finding) -> str:
    """Give the fingerprint; in a folder one of that folder, as two workspaces may have a recipe of the same id."""
    folder = finding.path.removesuffix(finding.file)
    if folder in ("", finding.path):
        return finding.fingerprint
    return sha256(f"{finding.fingerprint}\0{folder}".encode("utf-8", "surrogateescape")).hexdigest()[:16]


def _next(fingerprint: str, count: int) -> str:
    return sha256(f"{fingerprint}\0{count}".encode()).hexdigest()[:16]


def _remark(finding: Finding, because: tuple[str, ...], fingerprint: str) -> Remark:
    return Remark(
        finding.rule,
        finding.severity,
        finding.path,
        max(finding.line, 1),
        max(finding.column, 1),
        "\n".join(_lines(finding, because)),
        fingerprint,
        terminal(shortened(finding.recipe or finding.path, 200)),
        terminal(shortened(finding.source, MOST)),
    )


def _lines(finding: Finding, because: tuple[str, ...]) -> Iterator[str]:
    yield terminal(shortened(finding.message, MOST))
    if finding.mend is not None:
        yield terminal(shortened(finding.mend.said, 300))
    shown = because[:10]
    for words in shown:
        yield f"because {terminal(shortened(words, 300))}"
    if len(because) > len(shown):
        yield f"because of {review_document.counted(len(because) - len(shown), 'change')} more"


def path_text(path: str) -> str:
    """Give a path that any encoding can write: bytes of a name that are no UTF-8 stand as their numbers."""
    return _SURROGATE.sub(lambda found: f"\\x{ord(found[0]) & 0xFF:02x}", path)
