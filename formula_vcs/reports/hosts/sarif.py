"""Findings as SARIF 2.1.0 (OASIS Standard, 27 March 2020): one run, its rules with their pages, its results."""

from __future__ import annotations

import inspect
from collections.abc import Iterable
from typing import Any, Final, TextIO
from urllib.parse import quote

from formula_vcs import __version__
from formula_vcs.reports.document.data import dump
from formula_vcs.reports.hosts.remarks import Remark
from formula_vcs.rules.registry import RULES
from formula_vcs.words.late_pattern import late_pattern

SCHEMA: Final = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/os/schemas/sarif-schema-2.1.0.json"
_TOP: Final = "SRCROOT"
_LEVELS: Final = {"block": "error", "warn": "warning", "note": "note"}
_BRACE: Final = late_pattern(r"[{}]")
_BRACKET: Final = late_pattern(r"[\[\]]")


def write(found: Iterable[Remark], command: str, *, blocked: bool, out: TextIO) -> None:
    """Write all findings."""
    del blocked
    dump(log(found, command), out)


def log(found: Iterable[Remark], command: str) -> dict[str, Any]:
    """Give a whole log of one run."""
    found = list(found)
    rules = sorted({item.rule for item in found})
    results = [_result(item, rules.index(item.rule)) for item in found]
    driver = {
        "name": "git-formula",
        "version": __version__,
        "semanticVersion": __version__,
        "rules": [_rule(name) for name in rules],
    }
    run = {
        "tool": {"driver": driver},
        "automationDetails": {"id": f"git-formula-{command}/"},
        "columnKind": "unicodeCodePoints",
        "originalUriBaseIds": {_TOP: {"description": {"text": "The top folder of the repository."}}},
        "results": results,
    }
    return {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}


def _rule(name: str) -> dict[str, Any]:
    rule = RULES.get(name)
    if rule is None:
        return {"id": name}
    page = inspect.cleandoc(rule.__doc__ or "")
    first = " ".join(page.partition("\n\n")[0].split())
    return {
        "id": name,
        "shortDescription": {"text": _message(first)},
        "fullDescription": {"text": _message(first)},
        "help": {"text": _message(f"{page}\n\nSource: {rule.source}")},
        "defaultConfiguration": {"level": _LEVELS[rule.severity]},
    }


def _result(item: Remark, index: int) -> dict[str, Any]:
    return {
        "ruleId": item.rule,
        "ruleIndex": index,
        "level": _LEVELS[item.severity],
        "message": {"text": _message(item.text)},
        "locations": [
            {
                "physicalLocation": {
                    "artifactLocation": {"uri": uri(item.path), "uriBaseId": _TOP},
                    "region": {"startLine": item.line, "startColumn": item.column},
                }
            }
        ],
        # one host knows findings again by "primaryLocationLineHash" alone; left out, it would hash the line, and a
        # finding would be another one as soon as a number in it changed
        "partialFingerprints": {
            "gitFormula/v1": item.fingerprint,
            "primaryLocationLineHash": f"{item.fingerprint}:1",
        },
        "properties": {"owner": item.owner, "source": item.source},
    }


def _message(text: str) -> str:
    """Write a message string: braces would be placeholders (3.11.5), brackets a link (3.11.6)."""
    text = _BRACE.sub(lambda found: found[0] * 2, text)
    return _BRACKET.sub(lambda found: f"\\{found[0]}", text) if "](" in text else text


def uri(path: str) -> str:
    """Write a path from the top as a relative reference (RFC 3986): whatever its bytes, each is one of the file's."""
    return quote(path.encode("utf-8", "surrogateescape"), safe="/")
