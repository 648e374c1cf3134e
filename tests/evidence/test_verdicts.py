"""Remembered verdicts: the same answer with and without them, whatever happened in between."""

from __future__ import annotations

import datetime
import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from formula_vcs.cli import main
from formula_vcs.evidence import verdicts
from formula_vcs.evidence.judge_workspace import _recipe, judge_workspace
from formula_vcs.evidence.verdicts import Verdicts
from formula_vcs.git import repository
from formula_vcs.model.content_hash import content_hash
from formula_vcs.model.finding import Finding
from formula_vcs.workspace import snapshot as snapshot_module
from formula_vcs.workspace import tool_stamp, verdict_store
from formula_vcs.workspace.asked_snapshot import AskedSnapshot
from formula_vcs.workspace.many import answers
from formula_vcs.workspace.snapshot import Committed, Snapshot, WorkTree
from formula_vcs.workspace.verdict_store import VerdictStore, verdicts_of
from tests.conftest import MINIMAL, GitRepo

Make = Callable[..., GitRepo]
DAY = datetime.date(2026, 6, 1)
CREAM, WATER, GLYCERIN, SHED = "cream.toml", "ingredients/water.toml", "ingredients/glycerin.toml", "workspace.toml"


@pytest.fixture(autouse=True)
def _not_in_ci(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CI", raising=False)
    # what large workspaces do, these do as well
    monkeypatch.setattr(verdicts, "_FEWEST", 0)
    monkeypatch.setattr(verdicts, "_MOST_TOUCHED", 1.0)


class Shop:
    """A repository with a recipe, a batch of it, a proof and a lot."""

    def __init__(self, repo: GitRepo) -> None:
        self.path = repo.path
        self.git, self.write, self.commit = repo.git, repo.write, repo.commit
        repo.commit("first", MINIMAL)
        self.record("b-1", closed=True)
        proof = f'kind = "stability"\n{self.pin()}report = "ST-1"\npassed = 2026-04-01\nuntil = 2026-08-01\n'
        lot = 'ingredient = "water"\nreceived = 2026-01-01\nexpires = 2026-07-01\n'
        repo.write({"evidence/cream.toml": f'recipe = "cream"\n\n[[proof]]\n{proof}', "lots/w-1.toml": lot})
        repo.write({"lots/g-1.toml": lot.replace("water", "glycerin")})
        repo.commit("records")

    def pin(self) -> str:
        """Give the lines that name the committed version of the cream."""
        commit = self.git("rev-parse", "HEAD")
        with Snapshot(Committed(self.repo, commit, "", "HEAD")) as there:
            recipe = there.recipe("cream")
            made = "0" * 64 if recipe is None else content_hash(recipe, there.formula(recipe).premixes)
        return f'commit = "{commit}"\nhash = "{made}"\n'

    def record(self, name: str, *, closed: bool) -> None:
        """Write a batch of the committed version."""
        more = "closed = 2026-03-05\n" if closed else ""
        head = f'recipe = "cream"\n{self.pin()}size = "10 kg"\ndate = 2026-03-04\nmade_by = "Una"\nchecked_by = "Ola"\n'
        head += 'made = "9.9 kg"\n'
        water = 'water = { target = "9.5 kg", weighed = "9.5 kg", lot = "w-1" }\n'
        rest = (
            'glycerin = { target = "0.5 kg", weighed = "0.5 kg", lot = "g-1" }\n\n[[step]]\nid = "mix"\n'
            'target = { shear = "low" }\nstarted = 2026-03-04T09:00:00\nended = 2026-03-04T09:10:00\ndone_by = "Una"\n'
        )
        self.write({f"batches/{name}.toml": f"{head}{more}\n[phase.A.charge]\n{water}{rest}"})

    @property
    def repo(self) -> repository.Repo:
        """Open it."""
        return repository.open_repo(self.path, inherit=False)

    def store(self) -> VerdictStore:
        """Open its verdicts."""
        found = verdicts_of(self.repo)
        assert found is not None
        return found

    def moments(self) -> Iterator[Snapshot]:
        """Give the work tree, the index and the last commit."""
        yield Snapshot(WorkTree(self.path))
        yield Snapshot(Committed(self.repo, None, "", "index"))
        yield Snapshot(Committed(self.repo, self.git("rev-parse", "HEAD"), "", "HEAD"))

    def judged(self, day: datetime.date = DAY, *, remember: bool = True) -> list[list[Finding]]:
        """Judge every moment."""
        store = verdicts_of(self.repo) if remember else None
        found = []
        for snapshot in self.moments():
            with snapshot:
                said = judge_workspace(snapshot, day, self.repo, store=store)
                found.append([snapshot.place(finding) for finding in said])
        if store is not None:
            store.save()
        return found

    def same(self, day: datetime.date = DAY) -> list[list[Finding]]:
        """Judge with and without verdicts, and twice with them."""
        fresh = self.judged(day, remember=False)
        assert repr(fresh) == repr(self.judged(day))
        assert repr(fresh) == repr(self.judged(day))
        return fresh


@pytest.fixture
def shop(git_repo: Make) -> Shop:
    return Shop(git_repo())


def _count(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Count what is kept anew: what was judged."""
    judged: list[str] = []
    keep = VerdictStore.keep

    def counting(self: VerdictStore, folder: str, what: str, path: str, verdict: Any) -> None:
        judged.append(path)
        keep(self, folder, what, path, verdict)

    monkeypatch.setattr(VerdictStore, "keep", counting)
    return judged


def _replace(path: str, old: str, new: str) -> Callable[[Shop], None]:
    def change(shop: Shop) -> None:
        file = shop.path / path
        if file.is_file():
            file.write_text(file.read_text("utf-8").replace(old, new), encoding="utf-8")

    return change


def _moved(old: str, new: str) -> Callable[[Shop], None]:
    def change(shop: Shop) -> None:
        if (shop.path / old).is_file():
            (shop.path / new).parent.mkdir(exist_ok=True)
            (shop.path / old).rename(shop.path / new)

    return change


def _written(path: str, text: str) -> Callable[[Shop], None]:
    return lambda shop: shop.write({path: text})


def _gone(path: str) -> Callable[[Shop], None]:
    return lambda shop: (shop.path / path).unlink(missing_ok=True)


CHANGES: dict[str, Callable[[Shop], Any]] = {
    "more glycerin": _replace(CREAM, "5.00", "6.00"),
    "less glycerin": _replace(CREAM, "6.00", "5.00"),
    "a floor that is not met": _replace(CREAM, '"to 100"', '{ pct = "to 100", at_least = 95.5 }'),
    "a comment": _replace(CREAM, "[[step]]", "# said\n[[step]]"),
    "a name that leads nowhere": _replace(CREAM, "glycerin =", "glycerol ="),
    "a name that leads there again": _replace(CREAM, "glycerol =", "glycerin ="),
    "a material of that name": _written("ingredients/glycerol.toml", MINIMAL[GLYCERIN]),
    "a material that is near": _written("ingredients/glycerols.toml", MINIMAL[GLYCERIN]),
    "a material gone": _gone(GLYCERIN),
    "the material again": _written(GLYCERIN, MINIMAL[GLYCERIN]),
    "two of one id": _written("old/cream.toml", MINIMAL[CREAM]),
    "one of one id": _gone("old/cream.toml"),
    "no toml": _replace(WATER, "title", "title title"),
    "toml": _replace(WATER, "title title", "title"),
    "another currency": _replace(SHED, "EUR", "USD"),
    "markets": _replace(SHED, 'title = "Shed"', 'title = "Shed"\nmarkets = ["EU"]'),
    "a certificate": _replace(
        GLYCERIN, "[origin]", '[[certificate]]\nscheme = "NOP"\nvalid_to = 2026-06-10\n[origin]'
    ),
    "a recipe renamed": _moved(CREAM, "lotion.toml"),
    "and back": _moved("lotion.toml", CREAM),
    "a batch": lambda shop: shop.record("b-2", closed=False),
    "a batch closed": _replace("batches/b-2.toml", "date = 2026-03-04\n", "date = 2026-03-04\nclosed = 2026-03-06\n"),
    "a closed batch edited": _replace("batches/b-1.toml", "0.5 kg", "0.6 kg"),
    "a closed batch gone": _gone("batches/b-1.toml"),
    "a lot gone": _gone("lots/w-1.toml"),
    "a lot's date": _replace("lots/w-1.toml", "2026-07-01", "2026-02-01"),
    "a house rule": _written(
        "rules/house.toml", '[[rule]]\nid = "less"\nkind = "limit"\ninci = "Glycerin"\nmax = "1 %"'
    ),
    "a branch": lambda shop: shop.git("checkout", "--quiet", "-B", "other"),
    "staged": lambda shop: shop.git("add", "--all"),
    "committed": lambda shop: shop.commit("more"),
    "committed, and once more": lambda shop: shop.commit("yet more"),
    "the commit before": lambda shop: shop.git("reset", "--quiet", "--hard", "HEAD~1"),
    "merged": lambda shop: shop.git("branch", "--force", "main", "HEAD") if _branch(shop) != "main" else None,
}  # fmt: skip


def _branch(shop: Shop) -> str:
    return shop.git("rev-parse", "--abbrev-ref", "HEAD")


_STEPS = st.lists(
    st.tuples(st.sampled_from(sorted(CHANGES)), st.integers(min_value=-400, max_value=400)), min_size=3, max_size=8
)


@pytest.mark.slow
@settings(max_examples=int(os.environ.get("VERDICT_EXAMPLES", "5")),
          suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])  # fmt: skip
@given(steps=_STEPS)
def test_random_histories(git_repo: Make, tmp_path: Path, steps: list[tuple[str, int]]) -> None:
    """After any changes, on any days, both answers are the same."""
    shop = Shop(git_repo(name=f"repo-{len(list(tmp_path.iterdir()))}"))
    shop.same()
    for change, days in steps:
        if change != "the commit before" or int(shop.git("rev-list", "--count", "HEAD")) > 1:
            CHANGES[change](shop)
        shop.same(DAY + datetime.timedelta(days=days))


@pytest.mark.slow
def test_each_change_by_itself(git_repo: Make) -> None:
    """Everything that changes is seen, in the order that the table has."""
    shop = Shop(git_repo())
    for change in CHANGES.values():
        change(shop)
        shop.same()


def test_on_all_cores(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    """Judged in other processes, the answers are the same, and so is what is kept of them."""
    shop = Shop(git_repo())
    for change in ("a batch", "a closed batch edited", "a name that leads nowhere", "a certificate", "two of one id"):
        CHANGES[change](shop)
        alone = shop.judged(remember=False)
        with monkeypatch.context() as many:
            many.setattr(verdicts, "FEW", 0)
            many.setattr(verdicts, "answers", partial(answers, processes=3))
            assert repr(alone) == repr(shop.judged(remember=False))
            assert repr(alone) == repr(shop.judged())
            assert repr(alone) == repr(shop.judged())
        judged = _count(monkeypatch)
        assert repr(alone) == repr(shop.judged())
        assert [] == [path for path in judged if path != "evidence/cream.toml"]


def test_stopped_in_the_middle_it_goes_on_there(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was judged before Control-C is kept: the next check begins behind it."""
    monkeypatch.chdir(shop.path)
    monkeypatch.setattr(verdicts, "FEW", 0)
    alone = shop.judged(remember=False)

    def stopped(done: int, _of: int) -> None:
        if done == 1:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt), shop.store() as store, Snapshot(WorkTree(shop.path)) as snapshot:
        list(judge_workspace(snapshot, DAY, shop.repo, stopped, store=store))
    with Snapshot(WorkTree(shop.path)) as snapshot:
        first = next(path for path in snapshot.listing if path != CREAM)
    judged = _count(monkeypatch)
    assert repr(alone) == repr(shop.judged())
    assert first not in judged
    assert "batches/b-1.toml" in judged


def test_what_would_mend_a_finding_is_remembered_with_it(shop: Shop) -> None:
    CHANGES["a floor that is not met"](shop)
    shop.commit("a floor")
    for found in shop.same():
        (mend,) = [finding.mend for finding in found if finding.rule == "bounds"]
        assert mend is not None
        assert mend.words == "at most 4.50 % of glycerin (A) fits, 0.50 % less than now; water takes the rest"
    CHANGES["less glycerin"](shop)
    shop.write({CREAM: (shop.path / CREAM).read_text("utf-8").replace("5.00", "4.80")})
    (mend,) = [finding.mend for finding in shop.same()[0] if finding.rule == "bounds"]
    assert mend is not None
    assert mend.value == "4.50"
    assert mend.words.endswith("0.30 % less than now; water takes the rest")


def test_what_is_known_is_not_judged_again(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    judged = _count(monkeypatch)
    shop.judged()
    assert {CREAM, "batches/b-1.toml", "evidence/cream.toml"} <= set(judged)
    judged.clear()
    shop.judged(DAY + datetime.timedelta(days=1))
    assert [] == [path for path in judged if path != "evidence/cream.toml"]  # its note counts days
    shop.write({CREAM: MINIMAL[CREAM].replace("5.00", "6.00")})
    judged.clear()
    shop.judged()
    assert [CREAM] == judged
    shop.commit("more")
    judged.clear()
    shop.judged()
    assert [] == judged


def test_what_a_change_cannot_touch_is_not_looked_up(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of what an earlier check settled, only what asked for a file that differs is looked up."""
    looked: list[str] = []
    kept = VerdictStore.kept

    def counting(self: VerdictStore, folder: str, what: str, path: str) -> Any:
        looked.append(path)
        return kept(self, folder, what, path)

    def files() -> set[str]:
        looked.clear()
        with shop.store() as store, Snapshot(WorkTree(shop.path)) as snapshot:
            list(judge_workspace(snapshot, DAY, shop.repo, store=store))
        return set(looked)

    monkeypatch.setattr(VerdictStore, "kept", counting)
    assert files() > {CREAM, WATER, GLYCERIN, "batches/b-1.toml", "lots/w-1.toml"}
    assert not files() & {WATER, GLYCERIN, "batches/b-1.toml"}  # of the others there is something to say
    shop.write({"lots/g-1.toml": (shop.path / "lots/g-1.toml").read_text("utf-8") + "# said\n"})
    assert "batches/b-1.toml" in files()
    assert WATER not in looked
    shop.write({GLYCERIN: MINIMAL[GLYCERIN] + "# said\n"})
    assert {CREAM, GLYCERIN} <= files()
    assert WATER not in looked
    shop.write({"ingredients/oil.toml": MINIMAL[GLYCERIN]})
    assert {CREAM, "ingredients/oil.toml"} <= files()
    shop.commit("more")
    assert WATER not in files()  # history went on
    shop.git("commit", "--quiet", "--amend", "--message=other")
    assert WATER not in files()  # from the commit before, which the last whole check knew
    shop.git("reset", "--quiet", "--soft", "HEAD~2")
    assert WATER in files()  # and here it did not


def test_an_edit_between_two_checks_is_followed(shop: Shop) -> None:
    """A closed batch that was edited and put back, in commits that no check saw, was edited."""
    shop.same()
    text = (shop.path / "batches/b-1.toml").read_text("utf-8")
    shop.write({"batches/b-1.toml": text.replace("9.9 kg", "9.8 kg")})
    shop.commit("edited")
    shop.write({"batches/b-1.toml": text})
    shop.commit("put back")
    found = shop.same()
    assert 2 == sum(finding.rule == "batch-edited" for finding in found[0])


def test_what_nobody_foresaw_binds_to_everything(shop: Shop) -> None:
    """Whoever looks at the list of files hangs on all of them; who asks the source itself is asked again each time."""
    with Snapshot(WorkTree(shop.path)) as files:
        asked = AskedSnapshot(files)
        assert asked.ids("recipe").get("cream") == CREAM
        assert "cram" not in asked.ids("recipe")
        assert {("id", "recipe", "cream"): CREAM, ("id", "recipe", "cram"): ""} == asked.asked
        assert asked.lasts
        assert CREAM in asked.listing
        assert ("all",) in asked.asked
        assert asked.label == "work tree"
        assert not asked.lasts


@pytest.mark.parametrize("most", [0, 1 << 24])
def test_a_file_that_changes_while_it_is_judged(shop: Shop, monkeypatch: pytest.MonkeyPatch, most: int) -> None:
    """What is named and what is parsed are one content, or nothing is kept of it."""
    monkeypatch.setattr(snapshot_module, "_MOST_UNREAD", most)
    with Snapshot(WorkTree(shop.path)) as files:
        store = shop.store()
        known = Verdicts(store, files, DAY)
        name = files.content_id(CREAM)
        shop.write({CREAM: MINIMAL[CREAM].replace("5.00", "150.00")})
        said = known.judged("recipe", CREAM, partial(_recipe, CREAM))
        assert bool(most) is (name == files.content_id(CREAM))
        assert bool(most) is bool(store.kept("", "recipe", CREAM))
        assert bool(most) is not any(finding.severity == "block" for finding in said)


def test_days_on_which_something_turns(shop: Shop) -> None:
    """A lot that expires, a proof that ends, a batch of tomorrow: each day has its own answer."""
    days = [DAY + datetime.timedelta(days=number) for number in (-89, 0, 29, 30, 31, 61, 400)]
    said = {str(shop.same(day)) for day in days}
    assert len(said) > 2


@pytest.mark.parametrize(("name", "value"), [("TZ", "Pacific/Kiritimati"), ("LC_ALL", "tr_TR.UTF-8"), ("LANG", "C")])
def test_time_zone_and_locale(shop: Shop, name: str, value: str) -> None:
    """The day is asked anew at every check, and no words hang on the locale: another process says the same."""

    def said(*more: str) -> bytes:
        script = "import sys; from formula_vcs.cli import main; sys.exit(main(sys.argv[1:]))"
        done = subprocess.run(
            [sys.executable, "-c", script, "check", "--format", "json", *more],
            cwd=shop.path, env=os.environ | {name: value}, capture_output=True, check=False,
        )  # fmt: skip
        assert done.returncode in (0, 1), done.stderr
        return done.stdout

    shop.judged()
    assert said() == said("--no-cache")


def test_another_tool(shop: Shop, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A changed file of the package, other law, another Python, another library: nothing that was said before holds."""
    package = tmp_path / "package"
    package.mkdir()
    (package / "rules.py").write_text("one\n")
    monkeypatch.setattr(tool_stamp, "_PACKAGE", package)
    stamps = [tool_stamp.tool_stamp()]
    (package / "rules.py").write_text("two\n")
    stamps.append(tool_stamp.tool_stamp())
    (package / "law").mkdir()
    (package / "law" / "compiled.json").write_text("{}")
    stamps.append(tool_stamp.tool_stamp())
    monkeypatch.setattr(sys, "version", "3.99")
    stamps.append(tool_stamp.tool_stamp())
    (tmp_path / "pint-9.dist-info").mkdir()
    monkeypatch.syspath_prepend(str(tmp_path))
    stamps.append(tool_stamp.tool_stamp())
    assert len(stamps) == len(set(stamps))
    judged = _count(monkeypatch)
    shop.judged()
    first = len(judged)
    (package / "rules.py").write_text("three\n")
    shop.judged()
    assert len(judged) == 2 * first


def test_a_tool_that_changes_while_it_judges_keeps_nothing(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    store = shop.store()
    with Snapshot(WorkTree(shop.path)) as files:
        list(judge_workspace(files, DAY, shop.repo, store=store))
    monkeypatch.setattr(verdict_store, "tool_stamp", lambda: "another")
    store.save()
    assert not (shop.path / ".git" / "formula-vcs").exists()


@pytest.mark.parametrize("option", ["--fail-on=warn", "--how", "--format=json", "--as-of=2026-09-01", "--hook", CREAM])
def test_options(shop: Shop, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], option: str) -> None:
    monkeypatch.chdir(shop.path)
    main(["check"])
    capsys.readouterr()
    answers = [(main(["check", option, *more]), capsys.readouterr()) for more in ([], ["--no-cache"], [])]
    assert answers[0] == answers[1] == answers[2]


def test_ci_and_no_cache_write_nothing(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(shop.path)
    main(["check", "--no-cache"])
    monkeypatch.setenv("CI", "true")
    main(["check"])
    assert not (shop.path / ".git" / "formula-vcs").exists()


def test_init_status_shows_it(shop: Shop, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(shop.path)
    main(["init", "--status"])
    assert "nothing yet" in capsys.readouterr().out
    main(["check"])
    capsys.readouterr()
    main(["init", "--status"])
    assert " kB" in capsys.readouterr().out
    assert (shop.path / ".git" / "formula-vcs" / f"verdicts-{os.geteuid()}" / "CACHEDIR.TAG").is_file()


def test_a_shallow_clone_and_replaced_objects(shop: Shop, tmp_path: Path) -> None:
    """Where git shows other history or other contents than the ids say, nothing is remembered."""
    shop.same()
    blob, other = shop.git("rev-parse", f"HEAD:{WATER}"), shop.git("rev-parse", f"HEAD:{GLYCERIN}")
    shop.git("replace", blob, other)
    assert verdicts_of(shop.repo) is None
    shop.git("pack-refs", "--all")
    assert verdicts_of(shop.repo) is None
    shop.same()
    shop.git("replace", "--delete", blob)
    shop.same()
    assert verdicts_of(shop.repo) is not None
    shop.git("clone", "--quiet", "--depth=1", f"file://{shop.path}", str(tmp_path / "shallow"))
    assert verdicts_of(repository.open_repo(tmp_path / "shallow", inherit=False)) is None


def test_a_clone_that_becomes_shallow(shop: Shop) -> None:
    shop.same()
    (shop.path / ".git" / "shallow").write_text(shop.git("rev-parse", "HEAD") + "\n")
    shop.same()


def test_a_pinned_commit_that_is_gone(shop: Shop) -> None:
    """History is cut behind the records: the version that they name is not found any more, and that is said."""
    shop.same()
    tree = shop.git("write-tree")
    lone = shop.git("commit-tree", tree, "-m", "all")
    shop.git("reset", "--quiet", "--soft", lone)
    shop.git("reflog", "expire", "--expire=now", "--all")
    shop.git("gc", "--quiet", "--prune=now")
    assert "there is no commit" in str(shop.same())


def test_a_submodule(shop: Shop, git_repo: Make) -> None:
    inner = git_repo(MINIMAL, "inner")
    shop.same()
    shop.git("-c", "protocol.file.allow=always", "submodule", "--quiet", "add", str(inner.path), "sub")
    shop.same()
    shop.git("config", "-f", ".gitmodules", "submodule.sub.branch", "main")
    shop.commit("sub")
    shop.same()


def _files(shop: Shop) -> list[Path]:
    return [path for path in (shop.path / ".git" / "formula-vcs").rglob("*-*") if path.is_file()]


def _blind(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """Expect that everything is judged, and right."""
    judged = _count(monkeypatch)
    fresh = shop.judged(remember=False)
    assert repr(fresh) == repr(shop.judged())
    assert {CREAM, WATER, "batches/b-1.toml"} <= set(judged)


@pytest.mark.parametrize(
    "damage",
    [
        b"",
        b"\n",
        b"formula-vcs verdicts 1 0\n[]",
        b"\xff" * 100,
        b"[" * 100_000,
        b'["", "recipe", "cream.toml", [1]]\n',
    ],
)
def test_damaged_files(shop: Shop, monkeypatch: pytest.MonkeyPatch, damage: bytes) -> None:
    shop.judged()
    for path in _files(shop):
        path.write_bytes(damage)
    _blind(shop, monkeypatch)


def test_files_that_were_cut_or_changed_or_moved(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    shop.judged()
    files = _files(shop)
    for number, path in enumerate(files):
        data = path.read_bytes()
        path.write_bytes((data[:-9], data[:90] + b"~" + data[91:], data + b"\n")[number % 3])
    _blind(shop, monkeypatch)
    monkeypatch.undo()
    monkeypatch.delenv("CI", raising=False)
    whole = {path: path.read_bytes() for path in files}
    for path, other in zip(files, files[1:] + files[:1], strict=True):
        path.write_bytes(whole[other])
    _blind(shop, monkeypatch)


def test_a_sound_file_with_what_nobody_asks_is_a_miss(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    shop.judged()
    for path in _files(shop):
        if path.name.startswith("settled-"):
            path.unlink()
            continue
        lines = [json.loads(line) for line in path.read_bytes().splitlines()[1:]]
        for line in lines:
            for kept in line[3:]:
                kept[2] = [["who", "knows", ""], *kept[2]]
        body = b"".join(json.dumps(line).encode() + b"\n" for line in lines)
        head = VerdictStore(path.parents[1], path.parent.name)._head(path.name, body)
        path.write_bytes(head + b"\n" + body)
    _blind(shop, monkeypatch)


@pytest.mark.parametrize("mode", [0o620, 0o602])
def test_what_others_may_write_is_not_trusted(shop: Shop, monkeypatch: pytest.MonkeyPatch, mode: int) -> None:
    shop.judged()
    for path in _files(shop):
        path.chmod(mode)
    _blind(shop, monkeypatch)


def test_a_folder_that_others_may_write_is_not_trusted(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    shop.judged()
    _files(shop)[0].parent.chmod(0o777)
    _blind(shop, monkeypatch)


def test_what_belongs_to_somebody_else_is_not_trusted(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    shop.judged()
    assert _files(shop)
    place = VerdictStore(_files(shop)[0].parents[1], _files(shop)[0].parent.name)
    assert place.kept("", "recipe", CREAM)
    monkeypatch.setattr(os, "geteuid", lambda: 4242)
    place = VerdictStore(_files(shop)[0].parents[1], _files(shop)[0].parent.name)
    assert [] == place.kept("", "recipe", CREAM)


def test_links_are_not_followed(shop: Shop, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    shop.judged()
    for number, path in enumerate(_files(shop)):
        path.rename(tmp_path / f"kept-{number}")
        path.symlink_to(tmp_path / f"kept-{number}")
    _blind(shop, monkeypatch)


@pytest.mark.parametrize("fails", ["replace", "write", "mkdir"])
def test_a_full_disk_is_a_miss(shop: Shop, monkeypatch: pytest.MonkeyPatch, fails: str) -> None:
    def full(*_: Any, **__: Any) -> Any:
        raise OSError(28, "No space left on device")

    fresh = shop.judged(remember=False)
    with monkeypatch.context() as patched:
        if fails == "write":
            patched.setattr(os, "open", full)
        else:
            patched.setattr(Path, fails, full)
        store = shop.store()
        with Snapshot(WorkTree(shop.path)) as files:
            found = list(map(files.place, judge_workspace(files, DAY, None, store=store)))
            assert found
            store.save()
    assert not _files(shop)
    assert repr(fresh) == repr(shop.judged())


def test_two_writers_and_a_kill(shop: Shop) -> None:
    """Of two that write at once each file is one's or the other's; what a kill leaves is swept."""
    fresh = shop.judged(remember=False)
    command = [sys.executable, "-c", "import sys; from formula_vcs.cli import main; sys.exit(main(['check']))"]
    running = [subprocess.Popen(command, cwd=shop.path, stdout=subprocess.DEVNULL) for _ in range(4)]
    running[0].kill()
    for one in running:
        one.wait()
    assert repr(fresh) == repr(shop.judged())
    left = shop.store()._folder / ".x.tmp"
    left.write_text("half")
    os.utime(left, (1, 1))
    shop.write({CREAM: MINIMAL[CREAM].replace("5.00", "7.00")})
    shop.same()
    assert not left.exists()


def test_it_is_bounded(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of many versions the last ones stay, of many tools too, and a file has a greatest size."""
    for number in range(6):
        shop.write({CREAM: MINIMAL[CREAM].replace("5.00", f"5.1{number}")})
        shop.judged()
    assert len(shop.store().kept("", "recipe", CREAM)) == 3
    for number in range(5):
        monkeypatch.setattr(tool_stamp, "tool_stamp", lambda number=number: f"{number:032x}")
        monkeypatch.setattr(verdict_store, "tool_stamp", tool_stamp.tool_stamp)
        shop.judged()
    place = shop.path / ".git" / "formula-vcs" / f"verdicts-{os.geteuid()}"
    assert len([path for path in place.iterdir() if path.is_dir()]) <= 4
    monkeypatch.setattr(verdict_store, "_MOST_BYTES", 100)
    shop.write({CREAM: MINIMAL[CREAM].replace("5.00", "5.99")})
    shop.same()
    assert [] == shop.store().kept("", "recipe", CREAM)
