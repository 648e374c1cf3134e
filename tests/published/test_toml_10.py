"""TOML 1.0 held against taplo: what we accept it accepts, and what is no TOML 1.0 we refuse.

TOML 1.0.0, toml.io/en/v1.0.0; the examples follow its text and those of toml-test, github.com/toml-lang/toml-test
(from memory).  taplo is 0.9, which reads TOML 1.0.
"""

from __future__ import annotations

import datetime
import shutil
import subprocess
import sys
import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from formula_vcs.toml.syntax import parse

ROOT = Path(__file__).parents[2]
TAPLO = shutil.which("taplo", path=str(Path(sys.executable).parent)) or shutil.which("taplo")
OURS = sorted([*ROOT.glob("recipes/**/*.toml"), *ROOT.glob("tests/published/formulary/*.toml")])

TRICKY = {
    "empty": "",
    "only a comment": "# nothing here",
    "no newline at the end": "a = 1",
    "windows lines": "a = 1\r\n[b]\r\nc = 2\r\n",
    "blanks and tabs": "\t a\t=\t1 \t# x\n",
    "bare keys": "a-b_c = 1\n1234 = 2\n-_- = 3\n",
    "a key of digits with a point": "3.14159 = 'pi'\n",
    "quoted keys": '"Aqua (Water)" = 1\n\'C:\\x\' = 2\n"" = 3\n"ʎǝʞ" = 4\n"a\\"b" = 5\n',
    "dotted keys": 'a.b = 1\na . c = 2\na."d e".f = 3\n',
    "a dotted key grows a table": "fruit.apple.smooth = true\nfruit.orange = 2\n",
    "keys out of order": "a.x = 1\nb.x = 2\na.y = 3\nb.y = 4\n",
    "a table above its parent": "[a.b.c]\nd = 1\n[a]\ne = 2\n",
    "tables apart": "[a.b]\nx = 1\n[c]\n[a.d]\nx = 2\n",
    "a sub-table of a dotted table": "[fruit]\napple.color = 1\n[fruit.apple.taste]\nx = 1\n",
    "blanks in a heading": "[ a . 'b c' . \"d\" ]\nx = 1\n[[e ]]\n",
    "a blank first in a heading of an array": "[[ e ]]\nx = 1\n",
    "a heading that is a day": "[2026-01-05]\nx = 1\n",
    "a key of digits, a point and letters": "3.14T9 = 1\n",
    "a key that begins with 0": "0e3 = 1\n",
    "arrays of tables": "[[a]]\nx = 1\n[[a]]\n[a.b]\ny = 1\n[[a.c]]\n[[a.c]]\nz = 1\n",
    "text": 'a = "I\'m a text. \\"quoted\\". Tab \\t, line \\n, \\u00E9, \\U0001F9F4, \\\\, \\b\\f\\r."\n',
    "literal text": "a = '<\\i\\c*\\s*>'\nb = ''\n",
    "long text": 'a = """\nRoses\\n\n\n  """\nb = """x\\\n\n      y"""\n',
    "long text full of quotes": 'a = """Here are two: "". And three: ""\\"."""\nb = """"x""""\nc = """""x"""""\n',
    "long literal text": "a = '''\nno 'escape' \\here\n'''\nb = ''''x''''\nc = '''''x'''''\n",
    "a tab in a text": "a = \"x\ty\"\nb = 'x\ty'\n",
    "other scripts": "# 乳液 крем\na = '乳液'\nb = \"крем \U0001f9f4\"\n",
    "a comment sign in a text": "a = \"# no comment\" # a comment\nb = '#'#\n",
    "whole numbers": "a = +99\nb = 42\nc = 0\nd = -17\ne = 1_000\nf = 1_2_3\ng = -0\nh = 9223372036854775807\n",
    "other bases": "a = 0xDEADBEEF\nb = 0xdead_beef\nc = 0o01234567\nd = 0b11010110\n",
    "numbers with a point": "a = +1.0\nb = 3.1415\nc = -0.01\nd = 9_224.445_9\n",
    "numbers with a power": "a = 5e+22\nb = 1e06\nc = -2E-2\nd = 6.626e-34\n",
    "not finite": "a = inf\nb = +inf\nc = -inf\nd = nan\ne = +nan\nf = -nan\n",
    "many decimals": "a = 0.30\nb = 0.300000000000000000000000000001\nc = 100.00\n",
    "yes and no": "a = true\nb = false\n",
    "days": "a = 1979-05-27T07:32:00Z\nb = 1979-05-27T00:32:00-07:00\nc = 1979-05-27T00:32:00.999999-07:00\n"
    "d = 1979-05-27 07:32:00Z\ne = 1979-05-27T07:32:00\nf = 1979-05-27\ng = 07:32:00\nh = 00:32:00.999999\n",
    "a leap day": "a = 2024-02-29\n",
    "arrays": "a = [1, 2, 3]\nb = []\nc = [[1, 2], ['x']]\nd = [1, 'x', 2.0, {y = 1}]\n",
    "an array over lines": "a = [ # one\n  1, # two\n\n  2, # the last comma is allowed\n]\n",
    "inline tables": "a = { b = 1, c.d = 2, 'e f' = [ { g = 1 } ] }\nh = {}\ni = {b=1}\n",
    "an inline table with an array over lines": "a = { b = [\n  1,\n  2,\n] }\n",
    "a key like a number": "1e3 = 1\n0x1 = 2\ninf = 3\n2026-01-01 = 4\ntrue = 5\n",
    "a charge by parts": 'title = "x"\namounts = "parts"\n[phase.A.charge]\nwater = "to 1000"\nborax = 4.5\n',
    "a charge with a table": '[phase.A.charge]\nacid = { pct = 0.20, for = "pH", at_most = 0.40 }\n',
    "a phase by dotted keys": 'phase.A.charge.water = "to 100"\nphase.A.title = "x"\n',
    "steps": '[[step]]\nid = "a"\nadd = ["A", { what = "B/x", share = "80 %" }]\n\n[[step]]\nid = "b"\n',
}

REFUSED = {
    "no value": "a = \n",
    "no key": "= 1\n",
    "no equals sign": "a 1\n",
    "two on a line": "a = 1 b = 2\n",
    "a bare word": "a = yes\n",
    "True": "a = True\n",
    "a point first": "a = .7\n",
    "a point last": "a = 7.\n",
    "a point before the power": "a = 3.e+20\n",
    "a comma for a point": "a = 0,5\n",
    "a leading zero": "a = 012\n",
    "a leading zero with a point": "a = 03.14\n",
    "an underscore last": "a = 1_\n",
    "two underscores": "a = 1__2\n",
    "a capital base": "a = 0XFF\n",
    "a sign before a base": "a = +0xFF\n",
    "an open text": 'a = "x\n',
    "an open long text": 'a = """x\n',
    "a wrong escape": 'a = "\\q"\n',
    "a wrong character number": 'a = "\\uD800"\n',
    "a control byte in a text": 'a = "x\x01y"\n',
    "a control byte in a comment": "# x\x01y\na = 1\n",
    "a bare carriage return": "a = 1\rb = 2\n",
    "a key twice": "a = 1\na = 2\n",
    "a key twice, quoted": 'a = 1\n"a" = 2\n',
    "a table twice": "[a]\nb = 1\n[a]\nc = 2\n",
    "a table over a value": "a = 1\n[a]\n",
    "a dotted key through a value": "a = 1\na.b = 2\n",
    "a dotted key over a heading": "[a.b]\nc = 1\n[a]\nb.d = 2\n",
    "a heading over a dotted key": "[a]\nb.c = 1\n[a.b]\nd = 2\n",
    "an inline table that grows": "a = { b = 1 }\na.c = 2\n",
    "an inline table that gets a heading": "a = { b = 1 }\n[a.c]\n",
    "a key twice in an inline table": "a = { b = 1, b = 2 }\n",
    "an array of tables over a table": "[a]\n[[a]]\n",
    "a table over an array of tables": "[[a]]\n[a]\n",
    "an array of tables over an array": "a = []\n[[a]]\n",
    "an empty heading": "[]\n",
    "an open heading": "[a\nb = 1\n",
    "a heading and a value": "[a] b = 1\n",
    "a heading over two lines": "[a\n]\n",
    "an open array": "a = [1, 2\n",
    "no comma in an array": "a = [1 2]\n",
    "two commas in an array": "a = [1,,2]\n",
    "a day that is none": "a = 2026-02-30\n",
    "a month that is none": "a = 2026-13-01\n",
    "an hour that is none": "a = 25:00:00\n",
    "a day of one figure": "a = 2026-1-5\n",
    "a plus in a heading": "[1e+5]\n",
    "a time with a comma": "a = 07:32:00,5\n",
    "a number out of all range": "a = 1e99999999999999999999\n",
    "git's marks": "<<<<<<< ours\na = 1\n=======\na = 2\n>>>>>>> theirs\n",
}

# TOML 1.1.0 (toml.io/en/v1.1.0, from memory) allows these and 1.0 does not.
ONLY_1_1 = {
    "an inline table over lines": "a = {\n  b = 1\n}\n",
    "a last comma in an inline table": "a = { b = 1, }\n",
    "a comment in an inline table": "a = { b = 1, # x\n c = 2 }\n",
    "an escape for escape": 'a = "\\e[0m"\n',
    "a character by two figures": 'a = "\\x41"\n',
    "a time without seconds": "a = 07:32\n",
    "a date and time without seconds": "a = 2026-01-05T07:32Z\n",
}
# Drafts of 1.1 had it, the release has not.
ONLY_DRAFTS = {"a bare key in another script": "乳液 = 1\n"}

# TOML 1.0 by its grammar (toml.abnf: ws in std-table and array-table, unquoted-key), and taplo 0.9.3 refuses it.
TAPLO_REFUSES = {
    "a blank first in a heading of an array",
    "a heading that is a day",
    "a key of digits, a point and letters",
    "a key that begins with 0",
}
# Not TOML 1.0, and taplo 0.9.3 lets it pass.  So does it a number beyond any range, which is TOML and which we refuse.
TAPLO_ACCEPTS = {"a plus in a heading", "a time with a comma", "a number out of all range"}


def taplo(*files: Path) -> subprocess.CompletedProcess[str]:
    """Run taplo on files, without any configuration, schema or network."""
    assert TAPLO is not None
    command = [TAPLO, "lint", "--no-auto-config", "--no-schema", "--colors", "never", *map(str, files)]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)


needs_taplo = pytest.mark.skipif(TAPLO is None, reason="taplo is not installed")


def plain(value: Any) -> Any:
    """Make not-a-number equal to itself."""
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [plain(inner) for inner in value]
    return "nan" if isinstance(value, Decimal) and value.is_nan() else value


@needs_taplo
def test_taplo_accepts_every_file_of_ours() -> None:
    assert len(OURS) > 90
    for file in OURS:
        assert parse(file.read_bytes()).errors == (), file
    found = taplo(*OURS)
    assert found.returncode == 0, found.stderr


@pytest.mark.parametrize("name", TRICKY)
def test_tricky_toml_1_0_is_accepted_by_both(tmp_path: Path, name: str) -> None:
    text = TRICKY[name]
    found = parse(text.encode())
    assert found.errors == ()
    assert plain(found.data) == plain(tomllib.loads(text, parse_float=Decimal))
    if TAPLO is not None:
        file = tmp_path / "x.toml"
        file.write_bytes(text.encode())
        verdict = taplo(file)
        assert (verdict.returncode != 0) == (name in TAPLO_REFUSES), verdict.stderr


@pytest.mark.parametrize("name", [*REFUSED, *ONLY_1_1, *ONLY_DRAFTS])
def test_what_is_no_toml_1_0_is_refused(tmp_path: Path, name: str) -> None:
    text = {**REFUSED, **ONLY_1_1, **ONLY_DRAFTS}[name]
    found = parse(text.encode())
    assert found.errors
    assert found.data == {}
    for problem in found.errors:
        assert 1 <= problem.line <= text.count("\n") + 1
        assert problem.column >= 1
    if TAPLO is not None:
        file = tmp_path / "x.toml"
        file.write_bytes(text.encode())
        assert (taplo(file).returncode == 0) == (name in TAPLO_ACCEPTS)


def test_bytes_that_are_no_text_are_refused() -> None:
    for data in (b"\xff\xfea\x00=\x001\x00", b"a = '\xe9'\n", b"a = 1\0\n", b"\xef\xbb\xbfa = 1\n"):
        assert parse(data).errors


def test_exact_decimals_and_days_come_out_as_written() -> None:
    data = parse(b"a = 0.30\nb = 0.300000000000000000000000000001\nc = 2026-01-05\n").data
    assert str(data["a"]) == "0.30"
    assert data["b"] == Decimal("0.300000000000000000000000000001")
    assert data["c"] == datetime.date(2026, 1, 5)
