"""Random merges held against an oracle of their own, which knows nothing of how the tool merges.

``python -m tests.merge.oracle --seed 5 --pairs 10000`` tries so many pairs, ``--pair 123`` one alone.

Two people edit one recipe of the demo.  An edit is a rule about lines of text that says which things it is about;
where no thing is in both people's edits they are independent, and the merge has to be clean and to be the one edit
made after the other: in facts (read by the standard library), and in comments, each above or behind the line that it
is about.  Where they are not, the merge may ask; where it does not, no comment that somebody wrote is lost, none stands
twice, and each stands by a line that it stood by.
"""

from __future__ import annotations

import argparse
import contextlib
import random
import re
import sys
import tomllib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from formula_vcs.git.would_merge import merge_text
from formula_vcs.merge.merge_file import merge_texts
from formula_vcs.merge.three_way import ThreeWay
from formula_vcs.toml.syntax import parse

ROOT = Path(__file__).resolve().parents[2]
RECIPES = tuple(
    path.read_text("utf-8") for path in sorted((ROOT / "recipes").glob("*.toml")) if path.name != "workspace.toml"
)
INGREDIENTS = tuple(sorted(path.stem for path in (ROOT / "recipes" / "ingredients").glob("*.toml")))
_PAIR = re.compile(r"^([A-Za-z0-9_-]+)( *)=( *)([^#\n]*?)( *#.*)?$")
_HEADING = re.compile(r"^\[+([^\]]+)\]+( *#.*)?$")

Lines = list[str]


@dataclass(frozen=True)
class Spot:
    """A line of a recipe and what it is: ``("phase", "A", "charge", "water")``, ``("step", "mix", "time")``."""

    at: int
    name: tuple[str, ...]


def spots(lines: Lines) -> list[Spot]:
    """Name every heading and pair of a recipe; a step is called by its id."""
    found: list[Spot] = []
    table: tuple[str, ...] = ()
    for at, line in enumerate(lines):
        heading = _HEADING.match(line)
        if heading:
            table = tuple(heading[1].split("."))
            if table == ("step",):
                rest = (_PAIR.match(later) for later in lines[at + 1 :])
                table = ("step", next((pair[4].strip('" ') for pair in rest if pair and pair[1] == "id"), "?"))
            found.append(Spot(at, (*table, "")))
        elif pair := _PAIR.match(line):
            found.append(Spot(at, (*table, pair[1])))
    return found


# --- edits: each says what it is about, and can be made again in a text that somebody else has edited


Thing = tuple[str, ...]
Do = Callable[[Lines], Lines]


class NotHere(Exception):
    """The line that an edit is about is not in this text."""


@dataclass(frozen=True)
class Edit:
    """What a person does to some lines, and the things that it is about."""

    do: Do
    about: frozenset[Thing]


Maker = Callable[[Lines, random.Random], Edit]


def at_of(lines: Lines, name: Thing) -> int:
    """Give the line of a name."""
    found = [spot.at for spot in spots(lines) if spot.name == name]
    if len(found) != 1:
        raise NotHere
    return found[0]


def _charges(lines: Lines) -> list[Spot]:
    return [spot for spot in spots(lines) if spot.name[0] == "phase" and len(spot.name) == 4 and spot.name[3]]


def _choose(items: Sequence[Spot], chance: random.Random) -> Spot:
    if not items:
        raise NotHere
    return chance.choice(items)


def _free(lines: Lines) -> list[Spot]:
    """Give the charges that no step names and no other phase holds too: those that can go elsewhere."""
    text = "\n".join(lines)
    names = Counter(spot.name[3] for spot in _charges(lines))
    return [
        spot for spot in _charges(lines)
        if names[spot.name[3]] == 1 and '"to 100"' not in lines[spot.at]
        and f"{spot.name[1]}/{spot.name[3]}" not in text
    ]  # fmt: skip


def _top(lines: Lines, at: int) -> int:
    """Give where the comment lines that touch a line from above begin."""
    while at and lines[at - 1].lstrip().startswith("#"):
        at -= 1
    return at


def _about(name: Thing) -> Thing:
    return ("charge", *name[1::2]) if name[0] == "phase" and len(name) == 4 and name[3] else name


def _line(name: Thing, new: Callable[[str], str], *about: Thing) -> Edit:
    """Change one line."""

    def do(lines: Lines) -> Lines:
        at = at_of(lines, name)
        return [*lines[:at], new(lines[at]), *lines[at + 1 :]]

    return Edit(do, frozenset(about or (_about(name),)))


def _block(lines: Lines, name: Thing) -> tuple[Lines, Lines, Lines]:
    """Give what stands before a line, the line with the comments above it, and what stands behind."""
    at = at_of(lines, name)
    top = _top(lines, at)
    return lines[:top], lines[top : at + 1], lines[at + 1 :]


def amount(lines: Lines, chance: random.Random) -> Edit:
    """Change how much of a charge goes in."""
    spot = _choose([one for one in _charges(lines) if re.search(r"= *[\d.]+", lines[one.at])], chance)
    value = f"{chance.randrange(1, 900) / 100:.2f}"
    return _line(spot.name, lambda line: re.sub(r"(= *)[\d.]+", rf"\g<1>{value}", line, count=1))


def _behind(block: Lines, left: Lines, target: Thing) -> Lines:
    at = at_of(left, target)
    return left[: at + 1] + block + left[at + 1 :]


def _relocated(lines: Lines, chance: random.Random, *, same: bool) -> Edit:
    name = _choose(_free(lines), chance).name
    others = [one for one in _charges(lines) if (one.name[1] == name[1]) is same and one.name != name]
    if not any(one.name[1] == name[1] and one.name != name for one in _charges(lines)):
        raise NotHere  # the phase would be empty
    target = _choose(others, chance).name

    def do(there: Lines) -> Lines:
        before, block, after = _block(there, name)
        return _behind(block, before + after, target)

    return Edit(do, frozenset() if same else frozenset({_about(name)}))


def move(lines: Lines, chance: random.Random) -> Edit:
    """Take a charge and what is said above it to another phase."""
    return _relocated(lines, chance, same=False)


def shuffle(lines: Lines, chance: random.Random) -> Edit:
    """Put a charge to another place in its phase: that is layout, and about nothing."""
    return _relocated(lines, chance, same=True)


def remove(lines: Lines, chance: random.Random) -> Edit:
    """Take a charge out, with what is said about it."""
    name = _choose(_free(lines), chance).name
    if sum(one.name[1] == name[1] for one in _charges(lines)) < 2:
        raise NotHere

    def do(there: Lines) -> Lines:
        before, _, after = _block(there, name)
        return before + after

    return Edit(do, frozenset({_about(name)}))


def _new(lines: Lines, chance: random.Random) -> str:
    new = chance.choice(INGREDIENTS)
    if any(one.name[3] == new for one in _charges(lines)):
        raise NotHere
    return new


def add(lines: Lines, chance: random.Random) -> Edit:
    """Add a charge behind another, as like as not with something said."""
    target, new = _choose(_charges(lines), chance).name, _new(lines, chance)
    block = [f"{new} = {chance.randrange(1, 90) / 100:.2f}"]
    if chance.random() < 0.4:
        block[0] += f"  # new {chance.randrange(10**6)}"
    if chance.random() < 0.4:
        block.insert(0, f"# brought in {chance.randrange(10**6)}")
    return Edit(lambda there: _behind(block, there, target), frozenset({("charge", "*", new)}))


def swap(lines: Lines, chance: random.Random) -> Edit:
    """Take another material in place of one."""
    name, new = _choose(_free(lines), chance).name, _new(lines, chance)
    return _line(name, lambda line: re.sub(r"^[a-z0-9-]+", new, line), _about(name), ("charge", "*", new))


def say_above(lines: Lines, chance: random.Random) -> Edit:
    """Write a comment above a line, first or last of those there."""
    name, words, last = _choose(spots(lines), chance).name, f"# said {chance.randrange(10**6)}", chance.random() < 0.5

    def do(there: Lines) -> Lines:
        at = at_of(there, name)
        at = at if last else _top(there, at)
        return [*there[:at], words, *there[at:]]

    return Edit(do, frozenset({("above", *_about(name)), _about(name)}))


def say_behind(lines: Lines, chance: random.Random) -> Edit:
    """Write a comment behind a line that has none."""
    name = _choose([one for one in spots(lines) if "#" not in lines[one.at]], chance).name
    words = f"  # see {chance.randrange(10**6)}"
    return _line(name, lambda line: line + words, ("behind", *_about(name)), _about(name))


def say_at_the_end(lines: Lines, chance: random.Random) -> Edit:
    """Write a comment at the end of the file."""
    del lines
    words = f"# at the end {chance.randrange(10**6)}"
    return Edit(lambda there: [*there, "", words], frozenset({("end",)}))


def say_apart(lines: Lines, chance: random.Random) -> Edit:
    """Write a comment that stands alone between two tables."""
    name = _choose([spot for spot in spots(lines) if not spot.name[-1] and not lines[spot.at - 1].strip()], chance).name
    words = f"# apart {chance.randrange(10**6)}"

    def do(there: Lines) -> Lines:
        at = _top(there, at_of(there, name))
        return [*there[:at], words, "", *there[at:]]

    return Edit(do, frozenset({("apart", *name), ("order",)}))


def unsay(lines: Lines, chance: random.Random) -> Edit:
    """Take a comment line out."""
    own = [at for at, line in enumerate(lines) if line.startswith("#")]
    if not own:
        raise NotHere
    at = chance.choice(own)
    words = lines[at]
    below = next((spot.name for spot in spots(lines) if spot.at > at), None)
    about = {("end",)} if below is None else {("above", *_about(below)), _about(below)}

    def do(there: Lines) -> Lines:
        if there.count(words) != 1:
            raise NotHere
        return [line for line in there if line != words]

    return Edit(do, frozenset(about))


def field(lines: Lines, chance: random.Random) -> Edit:
    """Change a time or a speed of a step."""
    own = [one for one in spots(lines) if one.name[0] == "step" and one.name[-1] in ("time", "speed")]
    value = str(chance.randrange(1, 999))
    return _line(_choose(own, chance).name, lambda line: re.sub(r"\d+", value, line, count=1))


def _steps(lines: Lines) -> dict[str, tuple[int, int]]:
    """Give where each step begins, what is said above it included, and where it ends, blank lines not included."""
    found = {}
    for spot in spots(lines):
        if spot.name[0] == "step" and not spot.name[-1]:
            end = spot.at + 1
            while end < len(lines) and not lines[end].startswith("["):
                end += 1
            while not lines[end - 1].strip() or lines[end - 1].startswith("#"):
                end -= 1
            found[spot.name[1]] = (_top(lines, spot.at), end)
    return found


def step_moved(lines: Lines, chance: random.Random) -> Edit:
    """Let two neighbours change places."""
    steps = list(_steps(lines))
    if len(steps) < 2:
        raise NotHere
    at = chance.randrange(len(steps) - 1)
    one, two = steps[at], steps[at + 1]

    def do(there: Lines) -> Lines:
        blocks = _steps(there)
        if one not in blocks or two not in blocks:
            raise NotHere
        (a, b), (c, d) = blocks[one], blocks[two]
        if c < b or any(line.strip() for line in there[b:c]):
            raise NotHere
        return there[:a] + there[c:d] + there[b:c] + there[a:b] + there[d:]

    do(lines)
    return Edit(do, frozenset({("order",)}))


def step_added(lines: Lines, chance: random.Random) -> Edit:
    """Put one more stirring before a step."""
    target = chance.choice(list(_steps(lines)) or ["?"])
    block = [
        "[[step]]",
        f'id    = "stir-{chance.randrange(10**6)}"',
        'into  = "main"',
        'shear = "low"',
        'time  = "2 min"',
        "",
    ]
    if chance.random() < 0.4:
        block.insert(0, f"# because {chance.randrange(10**6)}")

    def do(there: Lines) -> Lines:
        blocks = _steps(there)
        if target not in blocks:
            raise NotHere
        return there[: blocks[target][0]] + block + there[blocks[target][0] :]

    return Edit(do, frozenset({("order",)}))


def market(lines: Lines, chance: random.Random) -> Edit:
    """Sell it in one more market."""
    del lines
    new = chance.choice(["UK", "CA", "JP"])
    return _line(("markets",), lambda line: line.replace("]", f', "{new}"]', 1))


def title(lines: Lines, chance: random.Random) -> Edit:
    """Give the recipe, or a phase, another title."""
    name = _choose([one for one in spots(lines) if one.name[-1] == "title" and len(one.name) in (1, 3)], chance).name
    words = f'"Title {chance.randrange(10**6)}"'
    return _line(name, lambda line: re.sub(r'"[^"]*"', words, line, count=1))


def layout(lines: Lines, chance: random.Random) -> Edit:
    """Align every line anew, as an editor does."""
    del lines, chance
    return Edit(lambda there: [re.sub(r"^([a-z0-9_-]+) +=", r"\1 =", line) for line in there], frozenset())


MAKERS: tuple[tuple[Maker, int], ...] = (
    (amount, 8), (move, 5), (shuffle, 3), (remove, 4), (add, 6), (swap, 2), (say_above, 7), (say_behind, 6),
    (say_at_the_end, 1), (say_apart, 2), (unsay, 2), (field, 5), (step_moved, 3), (step_added, 3), (market, 1),
    (title, 2), (layout, 1),
)  # fmt: skip


@dataclass(frozen=True)
class Side:
    """What one person made of a recipe."""

    text: str
    edits: tuple[Edit, ...]
    names: tuple[str, ...]

    @property
    def about(self) -> frozenset[Thing]:
        """Give the things that the edits are about."""
        return frozenset(thing for edit in self.edits for thing in edit.about)


def edited(text: str, chance: random.Random) -> Side:
    """Make one to three edits."""
    lines = text.split("\n")[:-1]
    done: list[Edit] = []
    names: list[str] = []
    makers, weights = zip(*MAKERS, strict=True)
    for _ in range(chance.choice([1, 1, 2, 3])):
        maker = chance.choices(makers, weights)[0]
        with contextlib.suppress(NotHere):
            edit = maker(lines, chance)
            lines = edit.do(lines)
            done.append(edit)
            names.append(maker.__name__)
    return Side("\n".join(lines) + "\n", tuple(done), tuple(names))


def after(text: str, edits: Iterable[Edit]) -> str | None:
    """Make somebody's edits in a text that another edited; None where what they are about is not there any more."""
    lines = text.split("\n")[:-1]
    try:
        for edit in edits:
            lines = edit.do(lines)
    except NotHere:
        return None
    return "\n".join(lines) + "\n"


def independent(one: frozenset[Thing], other: frozenset[Thing]) -> bool:
    """Say whether two people's edits are about different things: no thing of one is one of the other, or holds it."""
    names = {item[-1] for item in one if item[0] == "charge"} & {item[-1] for item in other if item[0] == "charge"}
    return not names and not one & other


# --- the oracle


def meant(text: str) -> Any:
    """Give what a text says, without the order of its keys."""
    found = tomllib.loads(text)
    for phase in found.get("phase", {}).values():
        phase.setdefault("charge", {})
    found["phase"] = {
        name: phase for name, phase in found.get("phase", {}).items() if phase["charge"] or len(phase) > 1
    }
    found["markets"] = sorted(found.get("markets", []))
    return found


def said(text: str, *, phases: bool = True) -> Counter[tuple[str, tuple[str, ...]]]:
    """Give each comment with the line that it stands above or behind; a comment apart stands by none."""
    lines = text.split("\n")
    names = {spot.at: spot.name for spot in spots(lines)}
    found: Counter[tuple[str, tuple[str, ...]]] = Counter()
    for at, line in enumerate(lines):
        if line.lstrip().startswith("#"):
            below = next(
                (later for later in range(at + 1, len(lines)) if not lines[later].lstrip().startswith("#")), at
            )
            found[line.strip(), _place("above", names.get(below, ()), phases=phases)] += 1
        elif "#" in line:
            for part in re.split(r"  (?=#)", line[line.index("#") :]):
                found[part.strip(), _place("behind", names.get(at, ()), phases=phases)] += 1
    return found


def _place(where: str, name: tuple[str, ...], *, phases: bool) -> tuple[str, ...]:
    if not phases and len(name) == 4 and name[0] == "phase":
        name = (*name[:1], *name[2:])
    return (where, *name) if name else ("apart",)


def words(found: Counter[tuple[str, tuple[str, ...]]]) -> Counter[str]:
    """Give the comments alone."""
    return Counter(text for text, _ in found.elements())


@dataclass(frozen=True)
class Pair:
    """Two people's edits of one recipe; ``both`` is one's made after the other's where they are independent."""

    base: str
    ours: Side
    theirs: Side
    both: str | None

    def wrong(self) -> str:
        """Say what is wrong with the merge of the two, "" where nothing is."""
        ours, base, theirs = (text.encode() for text in (self.ours.text, self.base, self.theirs.text))
        one = merge_texts("recipe", ThreeWay(ours, base, theirs))
        other = merge_texts("recipe", ThreeWay(theirs, base, ours))
        if one is None or other is None:
            # a comment had no place, so lines are merged: that has to ask
            asked = self.both is None and all(map(asks, (ours, theirs), (base, base), (theirs, ours)))
            return "" if asked else "not merged"
        if bool(one.clashes) != bool(other.clashes):
            return "clashes one way round only"
        if one.clashes:
            return "" if self.both is None else f"a conflict of independent edits: {one.clashes[0].words}"
        if meant(one.text) != meant(other.text):
            return "another meaning the other way round"
        found = (_side(self.base, self.ours.text, self.theirs.text, text, self.both) for text in (one.text, other.text))
        return next((words for words in found if words), "")


def asks(ours: bytes, base: bytes, theirs: bytes) -> bool:
    """Say whether a merge of lines leaves a conflict, or a file that does not parse, which stops the merge."""
    found = merge_text(ours, base, theirs)
    return not found.clean or bool(parse(found.data or b"").errors)


def _side(base: str, ours: str, theirs: str, merged: str, both: str | None) -> str:
    if both is not None:
        if meant(merged) != meant(both):
            return "lost an edit"
        if said(merged) != said(both):
            gone, new = said(both) - said(merged), said(merged) - said(both)
            return f"comments: wanted {dict(gone)}, has {dict(new)}"
        return ""
    return _kept(base, ours, theirs, merged)


def _kept(base: str, ours: str, theirs: str, merged: str) -> str:
    """Say what was lost or went astray where the edits touch the same things."""
    was, one, other, now = (said(text, phases=False) for text in (base, ours, theirs, merged))
    for side in (one, other):
        for text in words(side) - words(was):
            if not words(now)[text]:
                return f"lost what was written: {text}"
    for text in words(one) & words(other):
        if not words(now)[text]:
            return f"lost what both kept: {text}"
    for text, count in words(now).items():
        if count > max(words(one)[text], words(other)[text]):
            return f"stands twice: {text}"
    places = {*one, *other}
    for item in now:
        if item not in places:
            return f"beside a line that it is not about: {item}"
    return ""


def pair(seed: int, number: int) -> Pair:
    """Make a pair out of the seed and its number."""
    chance = random.Random(f"{seed}:{number}")
    base = chance.choice(RECIPES)
    if chance.random() < 0.5:  # somebody has written comments before
        for maker in chance.choices([say_above, say_behind], k=3):
            base = after(base, [maker(base.split("\n")[:-1], chance)]) or base
    ours, theirs = edited(base, chance), edited(base, chance)
    return Pair(base, ours, theirs, after(ours.text, theirs.edits) if independent(ours.about, theirs.about) else None)


def failures(seed: int, numbers: Iterator[int] | range) -> Iterator[tuple[int, str, Pair]]:
    """Give the pairs that something is wrong with."""
    for number in numbers:
        made = pair(seed, number)
        found = made.wrong()
        if found:
            yield number, found, made


def main() -> int:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description="Merge random pairs of edits and hold them against an oracle.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--pairs", type=int, default=1000)
    parser.add_argument("--pair", type=int)
    args = parser.parse_args()
    numbers = range(args.pairs) if args.pair is None else range(args.pair, args.pair + 1)
    bad = 0
    for number, words_of_it, made in failures(args.seed, numbers):
        bad += 1
        print(f"pair {number}: {'+'.join(made.ours.names)} | {'+'.join(made.theirs.names)}: {words_of_it}")
    print(f"seed {args.seed}: {len(numbers)} pairs, {bad} wrong")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
