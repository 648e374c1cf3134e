"""Break files of a workspace as a hostile or an unlucky person would: by bytes, by tokens, by structure."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Mapping

Texts = dict[str, bytes]

_TOKEN = re.compile(rb"""\"(?:[^"\\\n]|\\.)*"|'[^'\n]*'|[A-Za-z0-9_+.:-]+|[\[\]{}=,#]|\s+|.""", re.DOTALL)
# What a reader trips over: ends of ranges, other kinds, quantities that are none, characters that do something.
ODD = tuple(
    word.encode()
    for word in (
        "nan", "-inf", "1e400", "-1e400", "-0", "0", "-5", "1e-30", "0.1e1", "9" * 60, "0x10", "1_000", "100.000000001",
        "true", '""', '"\u00a0"', "[]", "{}", "[[]]", '["a", 1]', "{ pct = 5 }", "[{}]", "[1, 2]", "2026-02-30",
        "2026-01-01", "0001-01-01", "9999-12-31", "1979-05-27T07:32:00Z", '"to 100"', '"to 1000"', '"q.s."',
        '"5 %"', '"-5 degC"', '"1e99 kg"', '"0 kg"', '"5 to 3 min"', '"at most 45 degC"', '"at least 1 Pa*s"', '"1/0"',
        '"18/104"', '"8 min"', '"6000 rpm"', '"4.80 EUR/kg"', '"4.80 XXX/kg"', '"kg"', '"5 5"', '"\u0430"', '"\\u0000"',
        '"\\u202e"', '"a\\nb"', '"..//../x"', '"A/"', '"A/water"', '"/"', "'''x\ny'''", '"""\nx"""', '"premix"', '"EU"',
        '"limit"', "1", "water", '"water"', '"hand-cream"', "pct", "at_most", "for", "rebuilds", "share", "a.b",
        '"a b"', "\u2764\ufe0f", '"<script>"', '"|x|"', '"::error::x"', '"@team #1"',
    )
)  # fmt: skip
_RAW = (b"\0", b"\r", b"\n", b"\r\n", b"\xff", b"\xef\xbb\xbf", b"\x1b[31m", b"\t", b" ", b"#", b'"', b"'", b'"""',
        b"[", b"]", b"[[", b"{", b"}", b"=", b",", b"\\", b"\xe2\x80\xae", b"\xf0\x9f\x92\xa9", b"[" * 200,
        b"{a=" * 60, b"<<<<<<< ours\n", b"# git-formula: merge stopped: x\n")  # fmt: skip

Mutation = Callable[[Texts, random.Random, str | None], None]


def _pick(texts: Mapping[str, bytes], chance: random.Random, focus: str | None = None) -> str:
    """Choose a file, the one in focus where it is there; a recipe oftener, since most is read off it."""
    if focus in texts and focus is not None:
        return focus
    names = sorted(texts)
    return chance.choice([*names, *[name for name in names if "/" not in name] * 4])


def some_bytes(texts: Texts, chance: random.Random, focus: str | None) -> None:
    """Flip, insert, repeat or drop bytes."""
    name = _pick(texts, chance, focus)
    data = bytearray(texts[name])
    for _ in range(chance.choice([1, 1, 2, 5])):
        at = chance.randrange(len(data) + 1)
        end = min(len(data), at + chance.choice([1, 1, 2, 10, 100]))
        kind = chance.randrange(4)
        if kind == 0 and at < len(data):
            data[at] ^= 1 << chance.randrange(8)
        elif kind == 1:
            data[at:at] = chance.choice(_RAW)
        elif kind == 2:
            data[at:at] = data[at:end]
        else:
            del data[at:end]
    texts[name] = bytes(data)


def some_tokens(texts: Texts, chance: random.Random, focus: str | None) -> None:
    """Put other tokens in place of tokens: from a list of odd ones, or from anywhere in the workspace."""
    name = _pick(texts, chance, focus)
    tokens = _TOKEN.findall(texts[name])
    solid = [number for number, token in enumerate(tokens) if token.strip()]
    for _ in range(chance.choice([1, 1, 1, 2, 3])):
        if not solid:
            return
        at = chance.choice(solid)
        kind = chance.randrange(6)
        if kind < 2:
            tokens[at] = chance.choice(ODD)
        elif kind == 2:
            tokens[at] = chance.choice(_TOKEN.findall(texts[_pick(texts, chance)]) or [b""])
        elif kind == 3:
            other = chance.choice(solid)
            tokens[at], tokens[other] = tokens[other], tokens[at]
        elif kind == 4:
            tokens[at] += b" " + tokens[at]
        else:
            tokens[at] = b""
    texts[name] = b"".join(tokens)


def a_value(texts: Texts, chance: random.Random, focus: str | None) -> None:
    """Put something odd behind an equals sign, so that the file mostly still parses."""
    name = _pick(texts, chance, focus)
    spots = list(re.finditer(rb"(?m)^([^#\n=]+=[ \t]*)([^\n#]+)", texts[name]))
    if spots:
        spot = chance.choice(spots)
        texts[name] = texts[name][: spot.start(2)] + chance.choice(ODD) + texts[name][spot.end(2) :]


def some_lines(texts: Texts, chance: random.Random, focus: str | None) -> None:
    """Drop, double, move or borrow whole lines."""
    name = _pick(texts, chance, focus)
    lines = texts[name].splitlines(keepends=True)
    for _ in range(chance.choice([1, 1, 2, 4])):
        if not lines:
            return
        at = chance.randrange(len(lines))
        kind = chance.randrange(4)
        if kind == 0:
            del lines[at]
        elif kind == 1:
            lines.insert(chance.randrange(len(lines) + 1), lines[at])
        elif kind == 2:
            lines.insert(chance.randrange(len(lines)), lines.pop(at))
        else:
            lines.insert(at, chance.choice(texts[_pick(texts, chance)].splitlines(keepends=True) or [b"\n"]))
    texts[name] = b"".join(lines)


def a_block(texts: Texts, chance: random.Random, focus: str | None) -> None:
    """Drop, double or move a table, also into another file."""
    name, other = _pick(texts, chance, focus), _pick(texts, chance)
    blocks = re.split(rb"(?m)^(?=\[)", texts[name])
    if len(blocks) < 2:
        return
    block = blocks[chance.randrange(1, len(blocks))]
    if chance.random() < 0.5:
        blocks.remove(block)
        texts[name] = b"".join(blocks)
    if chance.random() < 0.7:
        parts = re.split(rb"(?m)^(?=\[)", texts[other])
        parts.insert(chance.randrange(1, len(parts) + 1), block)
        texts[other] = b"".join(parts)


def a_file(texts: Texts, chance: random.Random, focus: str | None) -> None:
    """Drop a file, give it another's content, or put it where other kinds of files lie."""
    name = _pick(texts, chance, focus)
    kind = chance.randrange(4)
    if kind == 0:
        texts.pop(name)
    elif kind == 1:
        texts[name] = texts[_pick(texts, chance)]
    elif kind == 2:
        folder = chance.choice(
            ["", "ingredients/", "equipment/", "rules/", "lots/", "batches/", "evidence/", "deep/er/"]
        )
        texts[folder + name.rsplit("/", 1)[-1]] = texts[name]
    else:
        texts[name] = texts[name][: chance.randrange(len(texts[name]) + 1)]


def a_circle(texts: Texts, chance: random.Random, focus: str | None) -> None:
    """Let an ingredient be made by a recipe, as like as not one that holds it."""
    del focus
    inner = [name for name in sorted(texts) if name.startswith("ingredients/")]
    recipes = [name for name in sorted(texts) if "/" not in name and name != "workspace.toml"]
    if inner and recipes:
        made_by = chance.choice(recipes).removesuffix(".toml").encode()
        texts[chance.choice(inner)] = b'title = "Circle"\nrecipe = "' + made_by + b'"\n'


MUTATIONS: tuple[tuple[Mutation, int], ...] = (
    (some_bytes, 3), (some_tokens, 6), (a_value, 8), (some_lines, 4), (a_block, 4), (a_file, 2), (a_circle, 1),
)  # fmt: skip


def mutated(texts: Mapping[str, bytes], chance: random.Random, focus: str | None = None) -> Texts:
    """Give a workspace with one to four things broken, in one file where that is in focus."""
    found = dict(texts)
    kinds, weights = zip(*MUTATIONS, strict=True)
    for _ in range(chance.choice([1, 1, 2, 4])):
        if found:
            chance.choices(kinds, weights)[0](found, chance, focus)
    return found
