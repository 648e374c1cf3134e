"""Break a workspace in a thousand ways and see that everything holds.

``python -m tests.hostile.fuzz --seed 7 --cases 2000`` or ``--minutes 60``: each case is made of the seed and its
number, so ``--seed 7 --case 123`` makes one again.  What fails is shrunk to as few broken lines as show it and is
written into a folder (``--out``).  Ends with 1 where anything failed.

What must hold of every case: a check ends, and no error is one of ours; nothing takes five seconds of the processor;
``apply(a, diff(a, b))`` is b, both ways; a merge of two broken versions is the same whosever side is whose; a review of
it in every format is whole, without a control character, fits where it goes, and parses.
"""

from __future__ import annotations

import argparse
import datetime
import io
import json
import random
import re
import resource
import signal
import sys
import tempfile
import time
import traceback
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from types import FrameType

from formula_vcs.batches.take_weighings import take_in
from formula_vcs.batches.weighings_csv import read_weighings
from formula_vcs.commands.workspace_args import HOSTS
from formula_vcs.diff.apply import apply
from formula_vcs.diff.diff import diff
from formula_vcs.errors import UserError
from formula_vcs.evidence.judge_workspace import judge_workspace
from formula_vcs.figures.figure import Terms
from formula_vcs.merge.merge_file import merge_texts
from formula_vcs.merge.three_way import ThreeWay
from formula_vcs.model.facts import stated, unread
from formula_vcs.model.finding import blocks, worst_first
from formula_vcs.reports import check as check_report
from formula_vcs.reports import formats
from formula_vcs.reports.hosts import remarks
from formula_vcs.review.compare import compare
from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.syntax import parse
from formula_vcs.workspace.snapshot import Files, Snapshot, kind_of
from tests.hostile.mutate import Texts, mutated, some_bytes, some_lines, some_tokens

ROOT = Path(__file__).resolve().parents[2]
DAY = datetime.date(2026, 6, 1)
SECONDS = 5.0
MEMORY = 300 * 1024 * 1024
REVIEWS = ("text", "json", "markdown", "html", "github", "gitlab", "sarif", "junit")
CHECKS = ("text", "json", "markdown", "html", "github", "gitlab", "sarif", "junit")
_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
_COMMENT_LIMIT = 65_536
_EVERY = {"apply": 5, "merge": 1, "review": 41, "weigh": 5, "check formats": 23}


class Broken(AssertionError):
    """Something that must hold does not."""


class TooLongError(BaseException):
    """A case worked too long; no `Exception`, so that nothing takes it for an error of its own."""


def bases() -> list[Texts]:
    """Give small workspaces out of the demo: one recipe with what it rests on, and a file of every kind; one of two."""
    paths = [path for path in sorted((ROOT / "recipes").glob("*.toml")) if path.name != "workspace.toml"]
    return [*(_base(path) for path in paths), _base(paths[0]) | _base(paths[-1])]


def _base(recipe: Path) -> Texts:
    recipes = recipe.parent
    found = {name: (recipes / name).read_bytes() for name in ("workspace.toml", recipe.name)}
    found["rules/house.toml"] = _HOUSE
    for folder in ("batches", "evidence"):
        for path in sorted((ROOT / "formula_vcs" / "setup" / "demo_records" / folder).glob("*.toml")):
            data = path.read_bytes()
            if f'"{recipe.stem}"'.encode() in data and sum(name.startswith(folder) for name in found) < _RECORDS:
                found[f"{folder}/{path.name}"] = data
    for folder in ("premixes", "ingredients", "ingredients", "equipment", "lots"):  # a premix names ingredients too
        used = set(re.findall(rb"[a-z0-9-]+", b"\n".join(found.values())))
        for path in sorted((recipes / folder).glob("*.toml")):
            if path.stem.encode() in used:
                found[f"{folder}/{path.name}"] = path.read_bytes()
    return found


_RECORDS = 4


_HOUSE = b"""\
[[rule]]
id = "house-glycerin"
substances = ["Glycerin"]
kind = "limit"
at_most = "7 %"
where = { contact = ["leave-on"] }
because = "sticky, panel 2025"
source = "house standard HS-12"
"""


@dataclass(frozen=True)
class Case:
    """One case: its number, the workspace before, and two broken ones."""

    number: int
    base: Texts
    ours: Texts
    theirs: Texts


def made(seed: int, number: int, known: Sequence[Texts]) -> Case:
    """Make a case out of the seed and its number; half of them break one file twice, so that there is a merge."""
    chance = random.Random(f"{seed}:{number}")
    base = known[number % len(known)]
    focus = chance.choice([None, *sorted(base)]) if chance.random() < 0.5 else None
    return Case(number, base, mutated(base, chance, focus), mutated(base, chance, focus))


# --- what must hold


def _opened(texts: Mapping[str, bytes]) -> Snapshot:
    return Snapshot(Files(dict(texts)))


def check(case: Case) -> None:
    """Judge the broken workspace, find the place of every finding, and write them."""
    snapshot = _opened(case.ours)
    found = sorted((snapshot.place(one) for one in judge_workspace(snapshot, DAY)), key=worst_first)
    for form in CHECKS if case.number % _EVERY["check formats"] == 0 else ("text",):
        out = io.StringIO()
        if form in HOSTS:
            remarks.write(form, remarks.of_check(found), "check", blocked=blocks(found), out=out)
        else:
            formats.write(check_report.REPORT, check_report.CheckShown(found, blocks(found), 1), form, out)
        _whole(form, out.getvalue())


def patch(case: Case) -> None:
    """Hold the law of diff and apply on every recipe that both have, both ways."""
    old, new = _opened(case.ours), _opened(case.theirs)
    for name in sorted({*old.ids("recipe")} & {*new.ids("recipe")}):
        recipes = old.recipe(name), new.recipe(name)
        if recipes[0] is None or recipes[1] is None:
            continue
        a, b = old.formula(recipes[0]), new.formula(recipes[1])
        for one, other in ((a, b), (b, a)):
            changes = diff(one, other)
            _hold(apply(one, changes) == other, f"apply(a, diff(a, b)) is not b for {name}")
            _hold(len({change.id for change in changes}) == len(changes), f"two changes of {name} have one id")


def merge(case: Case) -> None:
    """Merge each file that both broke, both ways round."""
    for path in sorted({*case.ours} & {*case.theirs} & {*case.base}):
        o, b, t = case.ours[path], case.base[path], case.theirs[path]
        if b in (o, t) or o == t:
            continue
        kind = kind_of(path)
        one, other = merge_texts(kind, ThreeWay(o, b, t)), merge_texts(kind, ThreeWay(t, b, o))
        # with values that cannot be read, git's merge of lines may have to stand one way round
        _hold((one is None) == (other is None) or _refused(kind, o, b, t), f"{path} is merged one way round only")
        if one is None or other is None:
            continue
        _hold(bool(one.clashes) == bool(other.clashes), f"{path} clashes one way round only")
        if not one.clashes:
            meant = [
                stated(facts_of(kind, parse(side.text.encode("utf-8", "surrogateescape")).data))
                for side in (one, other)
            ]
            _hold(meant[0] == meant[1], f"merge(a, b) is not merge(b, a) in {path}")


def _refused(kind: str, *sides: bytes) -> bool:
    return any(any(unread(facts_of(kind, parse(side).data))) for side in sides)


def review(case: Case) -> None:
    """Review what the breaking did, in every format."""
    old, new = _opened(case.base), _opened(case.ours)
    found = compare(old, new, Terms(DAY))
    blocked = any(item.finding.severity == "block" for one in found.reviews for item in one.new)
    for form in REVIEWS:
        out = io.StringIO()
        if form in HOSTS:
            remarks.write(form, remarks.of_review(found), "review", blocked=blocked, out=out)
        else:
            writer = import_module(f"formula_vcs.reports.review.{form}")
            writer.write(found, title="base \u2192 broken", evidence=False, blocked=blocked, out=out)
        _whole(form, out.getvalue())


def weigh(case: Case) -> None:
    """Read a broken table of weighings, and take it into a batch: nothing is taken twice, no good line is dropped."""
    chance = random.Random(case.number)
    table = {"scale.csv": _TABLE}
    for _ in range(chance.choice([1, 2, 4])):
        chance.choice([some_bytes, some_tokens, some_lines])(table, chance, "scale.csv")
    found = read_weighings(table["scale.csv"])
    lines = [row.line for row in found.rows]
    _hold(len(set(lines)) == len(lines), "a line of a table is two weighings")
    _hold(not {one.line for one in found.problems if one.line} & set(lines), "a line is taken and refused")
    batch = next((data for path, data in case.base.items() if path.startswith("batches/")), None)
    if batch is not None and chance.random() < 0.1:
        taken = take_in(table["scale.csv"], batch.decode("utf-8"), None, replace=True)
        _hold(not parse(taken.text.encode()).errors, "a batch that was filled in does not parse")


_TABLE = b"""\
charge,weighed (kg),lot,time
water,61.900,water-2026-q2,2026-04-16T09:30
glycerin,5.000,glycerin-8812,2026-04-16T09:41
xanthan-gum,0.300,xanthan-gum-x80-417,2026-04-16T09:50
sodium-benzoate,0.400,sodium-benzoate-sb-2203,2026-04-16T09:55
"""

INVARIANTS: tuple[tuple[Callable[[Case], None], str], ...] = (
    (check, ""), (patch, "apply"), (merge, "merge"), (review, "review"), (weigh, "weigh"),
)  # fmt: skip


def _hold(holds: bool, words: str) -> None:
    if not holds:
        raise Broken(words)


def _whole(form: str, text: str) -> None:
    found = _CONTROL.search(text)
    _hold(found is None, f"{form} holds the character {found and ascii(found[0])}")
    if form == "markdown":
        _hold(len(text) <= _COMMENT_LIMIT, f"markdown has {len(text)} characters")
    if form in ("json", "gitlab", "sarif"):
        json.loads(text)
    if form == "junit":
        ET.fromstring(text)  # noqa: S314 - our own text
    if form == "html":
        _hold("<script" not in text.lower(), "html holds a script")


# --- running


def failure(case: Case, invariants: Iterable[Callable[[Case], None]] | None = None) -> str:
    """Give what is wrong with a case as one key, "" where everything holds: the kind of error, and where it was."""
    chosen = (hold for hold, every in INVARIANTS if not every or case.number % _EVERY[every] == 0)
    for hold in chosen if invariants is None else invariants:
        signal.signal(signal.SIGPROF, _too_long)
        signal.setitimer(signal.ITIMER_PROF, SECONDS)
        try:
            hold(case)
        except UserError:
            continue
        except TooLongError:
            return f"{hold.__name__}: more than {SECONDS:.0f} s"
        except Broken as error:
            return f"{hold.__name__}: {re.sub('[0-9]+', 'N', str(error))}"
        except Exception as error:  # noqa: BLE001 - whatever it is, it is what is looked for
            return f"{hold.__name__}: {type(error).__name__} at {_place(error)}"
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
    return ""


def _too_long(_number: int, _frame: FrameType | None) -> None:
    raise TooLongError


def _place(error: BaseException) -> str:
    own = [step for step in traceback.extract_tb(error.__traceback__) if "formula_vcs" in step.filename]
    return f"{Path(own[-1].filename).name}:{own[-1].lineno} {own[-1].name}" if own else "nowhere of ours"


def shrunk(case: Case, key: str, most: int = 400) -> Case:
    """Give the smallest case found in some trials that fails in the same way."""
    left = [most]
    named = [hold for hold, _ in INVARIANTS if key.startswith(f"{hold.__name__}:")]

    def fails(trial: Case) -> bool:
        left[0] -= 1
        return left[0] >= 0 and failure(trial, named) == key

    for side in ("theirs", "ours"):
        for path in sorted({*case.ours, *case.theirs, *case.base}):
            for trial in _simpler(case, side, path):
                if fails(trial):
                    case = trial
                    break
            case = _fewer_lines(case, side, path, fails)
    return case


def _with(case: Case, side: str, path: str, data: bytes | None) -> Case:
    texts = dict(case.ours if side == "ours" else case.theirs)
    if data is None:
        texts.pop(path, None)
    else:
        texts[path] = data
    return Case(
        case.number, case.base, texts if side == "ours" else case.ours, texts if side == "theirs" else case.theirs
    )


def _simpler(case: Case, side: str, path: str) -> Iterator[Case]:
    """Give cases in which one file is gone, or whole again."""
    there = case.ours if side == "ours" else case.theirs
    if path in there and (path not in case.base or there[path] != case.base[path]):
        yield _with(case, side, path, case.base.get(path))
    if path in there:
        yield _with(case, side, path, None)


def _fewer_lines(case: Case, side: str, path: str, fails: Callable[[Case], bool]) -> Case:
    data = (case.ours if side == "ours" else case.theirs).get(path)
    if data is None or data == case.base.get(path):
        return case
    lines = data.splitlines(keepends=True)
    size = max(1, len(lines) // 2)
    while True:
        at = 0
        while at < len(lines):
            trial = _with(case, side, path, b"".join(lines[:at] + lines[at + size :]))
            if fails(trial):
                case, lines = trial, lines[:at] + lines[at + size :]
            else:
                at += size
        if size == 1:
            return case
        size //= 2


def _written(case: Case, key: str, out: Path) -> Path:
    folder = out / re.sub(r"[^a-z0-9]+", "-", key.lower()).strip("-")[:60]
    for side in ("base", "ours", "theirs"):
        texts: Texts = getattr(case, side)
        for path, data in texts.items():
            if side == "base" or data != case.base.get(path):
                file = folder / side / path
                file.parent.mkdir(parents=True, exist_ok=True)
                file.write_bytes(data)
    (folder / "what.txt").write_text(f"{key}\ncase {case.number}\n", "utf-8")
    return folder


def run(seed: int, numbers: Iterable[int], until: float, out: Path) -> Counter[str]:
    """Try cases until they or the seconds are at their end; give how often each failure was met."""
    known = bases()
    met: Counter[str] = Counter()
    done = 0
    for number in numbers:
        if time.monotonic() > until:
            break
        case = made(seed, number, known)
        key = failure(case)
        done += 1
        if key:
            met[key] += 1
            if met[key] == 1:
                folder = _written(shrunk(case, key), key, out)
                print(f"case {number}: {key}\n  {folder}", flush=True)
    used = resource.getrusage(resource.RUSAGE_SELF)
    met_words = f"{len(met)} kinds of failure in {met.total()} cases" if met else "everything holds"
    print(f"seed {seed}, {done} cases, {used.ru_utime:.0f} s, {used.ru_maxrss // 1024} MB: {met_words}")
    for key, count in met.most_common():
        print(f"{count:6} {key}")
    return met


def main() -> int:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description="Break a workspace in many ways and see that everything holds.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--cases", type=int, help="so many cases")
    parser.add_argument("--minutes", type=float, help="for so long")
    parser.add_argument("--case", type=int, help="one case alone")
    parser.add_argument(
        "--out", type=Path, help="where what fails is written (default: a new folder in the temporary one)"
    )
    args = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_DATA, (MEMORY, MEMORY))
    out = args.out or Path(tempfile.mkdtemp(prefix="formula-fuzz-"))
    until = time.monotonic() + (args.minutes * 60 if args.minutes is not None else 10**9)
    many = args.cases if args.cases is not None else 10**12 if args.minutes is not None else 2000
    numbers = range(args.case, args.case + 1) if args.case is not None else range(many)
    return 1 if run(args.seed, numbers, until, out) else 0


if __name__ == "__main__":
    sys.exit(main())
