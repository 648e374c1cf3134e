"""Read what we write for code hosts as they read it: by published schemas and by parsers of others."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import markdown_it
from junitparser import JUnitXml
from markdown_it.token import Token

_SARIF = Path(__file__).parent / "schemas" / "sarif-2.1.0.json"

# docs.gitlab.com, "Code Quality", "Code Quality report format": what has to be there, and the severities there are
_GITLAB = {
    "type": "array",
    "items": {
        "type": "object",
        "required": ["description", "check_name", "fingerprint", "severity", "location"],
        "properties": {
            "type": {"const": "issue"},
            "description": {"type": "string", "minLength": 1},
            "check_name": {"type": "string", "minLength": 1},
            "fingerprint": {"type": "string", "minLength": 1},
            "severity": {"enum": ["info", "minor", "major", "critical", "blocker"]},
            "location": {
                "type": "object",
                "required": ["path", "lines"],
                "properties": {
                    # "must not be absolute, must not begin with ./"
                    "path": {"type": "string", "pattern": r"^(?!\./|/)"},
                    "lines": {
                        "type": "object",
                        "required": ["begin"],
                        "properties": {"begin": {"type": "integer", "minimum": 1}},
                    },
                },
            },
        },
    },
}
_COMMAND = re.compile(r"::(error|warning|notice) ([^:]*)::(.*)")


@cache
def _sarif_schema() -> jsonschema.Draft7Validator:
    return jsonschema.Draft7Validator(json.loads(_SARIF.read_text("utf-8")), format_checker=jsonschema.FormatChecker())


def sarif(text: str) -> Any:
    """Read SARIF and hold it against the schema of OASIS."""
    log = json.loads(text)
    _sarif_schema().validate(log)
    return log


def gitlab(text: str) -> Any:
    """Read a code quality report; no two issues of one have the same fingerprint."""
    issues = json.loads(text)
    jsonschema.Draft202012Validator(_GITLAB).validate(issues)
    assert len({issue["fingerprint"] for issue in issues}) == len(issues)
    return issues


def junit(text: str) -> JUnitXml:
    """Read JUnit with a parser of others, its counts against its cases."""
    document = JUnitXml.fromstring(text.encode())
    for suite in document:
        cases = list(suite)
        assert len(cases) == suite.tests
        for kind, count in (("failure", suite.failures), ("skipped", suite.skipped)):
            assert sum(any(type(r).__name__.lower() == kind for r in case.result) for case in cases) == count
    return document


def github(text: str) -> list[dict[str, str]]:
    """Read workflow commands as a runner does: each line is one (actions/runner, ActionCommand.TryParseV2)."""
    found = []
    for line in text.splitlines():
        match = _COMMAND.fullmatch(line)
        assert match is not None, line
        command = {"command": match[1], "message": _back(match[3])}
        for pair in match[2].split(","):
            key, _, value = pair.partition("=")
            command[key] = _back(value.replace("%3A", ":").replace("%2C", ","))
        found.append(command)
    return found


def _back(text: str) -> str:
    return text.replace("%0D", "\r").replace("%0A", "\n").replace("%25", "%")


_RENDERER = markdown_it.MarkdownIt("gfm-like", {"linkify": False})
# all of the HTML that we write ourselves
_OWN = re.compile(r"<!-- git-formula:review -->|</?details( open)?>|</?summary>|</?b>|</?code>")
# the one thing to be copied: how a proof is recorded, without a word of theirs
_PROOF = re.compile(
    r'\[\[proof\]\]\nkind   = "[a-z -]+"\ncommit = "[0-9a-f]{40}"\nhash   = "[0-9a-f]{64}"\nreport = ""\n'
    r"passed = \d{4}-\d\d-\d\d\n"
)


def markdown(text: str) -> list[Token]:
    """Render markdown as GitHub does (CommonMark with tables), and see that nothing but our own took effect."""
    tokens = _RENDERER.parse(text)
    for token in _flat(tokens):
        assert token.type not in {"link_open", "image", "code_inline", "code_block", "s_open"}, token
        if token.type == "fence":
            assert token.info == "toml", token
            assert _PROOF.fullmatch(token.content), token
        if token.type in {"html_block", "html_inline"}:
            assert not re.search(r"[<>]", _OWN.sub("", token.content)), token.content
    return tokens


def _flat(tokens: list[Token]) -> list[Token]:
    return [inner for token in tokens for inner in (token, *_flat(token.children or []))]
