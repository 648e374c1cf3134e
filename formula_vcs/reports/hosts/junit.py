"""Findings as test cases in the JUnit format: what blocks fails, other findings are skipped with their words."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, TextIO
from xml.sax.saxutils import escape, quoteattr

from formula_vcs.reports.hosts.remarks import Remark, path_text
from formula_vcs.words.escape import terminal
from formula_vcs.words.late_pattern import late_pattern

# all that XML 1.0 allows no document to hold, not even as a reference (W3C Recommendation, production 2 "Char")
_ILLEGAL: Final = late_pattern("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def write(found: Iterable[Remark], command: str, *, blocked: bool, out: TextIO) -> None:
    """Write a whole document: the verdict as a case of its own, then the findings."""
    found = list(found)
    failures = sum(item.severity == "block" for item in found) + blocked
    skipped = sum(item.severity != "block" for item in found)
    counts = f'tests="{len(found) + 1}" failures="{failures}" errors="0" skipped="{skipped}"'
    name = f"git-formula {command}"
    out.write('<?xml version="1.0" encoding="UTF-8"?>\n')
    out.write(f'<testsuites name="{name}" tests="{len(found) + 1}" failures="{failures}" errors="0">\n')
    out.write(f'  <testsuite name="{name}" {counts}>\n')
    if blocked:
        out.write(f'    <testcase classname="{name}" name="verdict">\n')
        out.write('      <failure type="verdict" message="blocked">blocked</failure>\n    </testcase>\n')
    else:
        out.write(f'    <testcase classname="{name}" name="verdict"/>\n')
    for item in found:
        _case(item, out)
    out.write("  </testsuite>\n</testsuites>\n")


def _case(item: Remark, out: TextIO) -> None:
    """Write one finding; its name holds the fingerprint and no number that moves, as hosts compare cases by name."""
    file = terminal(path_text(item.path))
    place = f"{file}:{item.line}:{item.column}: {item.severity} [{item.rule}] {item.text}"
    first = item.text.partition("\n")[0]
    name = f"{item.rule} {item.fingerprint}"
    out.write(f"    <testcase classname={_attribute(item.owner)} name={_attribute(name)} file={_attribute(file)}>\n")
    if item.severity == "block":
        out.write(f"      <failure type={_attribute(item.rule)} message={_attribute(first)}>{_text(place)}</failure>\n")
    else:
        out.write(f"      <skipped message={_attribute(place)}/>\n")
    out.write("    </testcase>\n")


def _attribute(text: str) -> str:
    return _ascii(quoteattr(_legal(text), {"\n": "&#10;"}))


def _text(text: str) -> str:
    return _ascii(escape(_legal(text)))


def _ascii(text: str) -> str:
    """Write what is not ASCII as references: the document is then UTF-8 whatever the locale writes in."""
    return text.encode("ascii", "xmlcharrefreplace").decode()


def _legal(text: str) -> str:
    return _ILLEGAL.sub(lambda found: f"\\u{ord(found[0]):04x}", text)
