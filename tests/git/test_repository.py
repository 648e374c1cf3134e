from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import tracemalloc
from pathlib import Path

import pytest

from formula_vcs.cli import main
from formula_vcs.errors import GitFailed, UserError
from formula_vcs.git import repository, running
from tests.conftest import MINIMAL
from tests.git.helpers_git import Scratch, scratch, settle

LIMIT = 1 << 20


@pytest.fixture
def repo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Scratch:
    settle(monkeypatch, tmp_path)
    return scratch(tmp_path / "r")


def opened(made: Scratch) -> repository.Repo:
    return repository.open_repo(made.top)


def child(code: str) -> str:
    """Give a shell line that runs Python on the package: what a hook would do."""
    root = Path(repository.__file__).parents[2]
    body = (
        "from pathlib import Path; from formula_vcs.git import repository; r = repository.open_repo(Path('.')); " + code
    )
    return f"PYTHONPATH='{root}' '{sys.executable}' -c \"{body}\""


class TestOpening:
    def test_a_plain_repository_is_found_from_below_without_a_process(
        self, repo: Scratch, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        (repo.top / "recipes" / "old").mkdir(parents=True)
        monkeypatch.setattr(repository, "call", lambda *_: pytest.fail("git was started"))

        found = repository.open_repo(repo.top / "recipes" / "old" / "not-there.toml")

        assert (repo.top, repo.top / ".git", repo.top / ".git") == found[:3]

    def test_the_quick_way_and_git_itself_agree(self, repo: Scratch, tmp_path: Path) -> None:
        repo.commit({"a": "1"})
        repo.git("worktree", "add", "-q", str(tmp_path / "linked"))

        for folder in (repo.top, tmp_path / "linked"):
            assert repository._ask_git(folder, inherit=True) == repository.open_repo(folder)

    def test_a_linked_work_tree_has_its_own_git_folder_and_the_shared_one(self, repo: Scratch, tmp_path: Path) -> None:
        repo.commit({"recipes/a.toml": "1"})
        repo.git("worktree", "add", "-q", "-b", "other", str(tmp_path / "linked"))
        linked = Scratch(tmp_path / "linked")
        linked.write("recipes/b.toml", "2")
        linked.git("add", ".")

        found = opened(linked)

        assert repo.top / ".git" == found.common_dir
        assert repo.top / ".git" / "worktrees" / "linked" == found.git_dir
        assert [e.path for e in repository.index_entries(found)] == ["recipes/a.toml", "recipes/b.toml"]
        assert [e.path for e in repository.index_entries(opened(repo))] == ["recipes/a.toml"]
        assert repository.current_branch(found) == "other"

    def test_a_bare_repository_has_no_top_and_its_commits_are_read(self, repo: Scratch, tmp_path: Path) -> None:
        commit = repo.commit({"a.toml": "1"})
        repo.git("clone", "-q", "--bare", str(repo.top), str(tmp_path / "bare.git"))

        found = repository.open_repo(tmp_path / "bare.git")

        assert found.top is None
        assert [e.path for e in repository.tree_entries(found, repository.resolve(found, "main"))] == ["a.toml"]
        assert commit == repository.resolve(found, "HEAD")

    def test_inside_the_git_folder_there_is_no_work_tree(self, repo: Scratch) -> None:
        assert repository.open_repo(repo.top / ".git").top is None

    def test_core_worktree_counts(self, repo: Scratch, tmp_path: Path) -> None:
        (tmp_path / "files").mkdir()
        repo.git("config", "core.worktree", str(tmp_path / "files"))

        assert tmp_path / "files" == repository.open_repo(repo.top).top

    def test_no_repository_is_one_line(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        settle(monkeypatch, tmp_path)
        monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
        with pytest.raises(UserError, match=r"^not a git repository: .*nor any folder above it\)$"):
            repository.open_repo(tmp_path)

    def test_an_empty_git_folder_is_no_repository_and_the_one_above_is_found(self, repo: Scratch) -> None:
        (repo.top / "inner" / ".git").mkdir(parents=True)

        assert repo.top == repository.open_repo(repo.top / "inner").top

    def test_another_users_repository_is_refused_with_gits_own_remedy(
        self, repo: Scratch, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        repo.commit({"a": "1"})
        monkeypatch.setenv("GIT_TEST_ASSUME_DIFFERENT_OWNER", "1")  # git's own switch for this test
        found = opened(repo)

        for ask in (repository.has_commits, repository.index_entries, lambda r: repository.resolve(r, "HEAD")):
            with pytest.raises(GitFailed, match=r"another user; if you trust it: git config --global --add safe"):
                ask(found)

    def test_git_missing_is_said(self, repo: Scratch, monkeypatch: pytest.MonkeyPatch) -> None:
        found = opened(repo)
        monkeypatch.setenv("PATH", str(repo.top))

        with pytest.raises(GitFailed, match="git does not run: it is not installed"):
            repository.has_commits(found)

    def test_git_dir_in_the_environment_counts_unless_the_repository_is_a_foreign_one(
        self, repo: Scratch, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        other = scratch(tmp_path / "other")
        monkeypatch.setenv("GIT_DIR", str(repo.top / ".git"))

        assert repo.top / ".git" == repository.open_repo(other.top).git_dir
        assert other.top / ".git" == repository.open_repo(other.top, inherit=False).git_dir


class TestRevisions:
    def test_an_empty_repository_is_normal(self, repo: Scratch) -> None:
        found = opened(repo)

        assert not repository.has_commits(found)
        assert repository.index_entries(found) == []
        assert repository.staged_paths(found) == []
        assert repository.current_branch(found) == "main"
        assert repository.default_branch(found) is None
        assert repository.head_branch_is_default(found)
        with pytest.raises(UserError, match="unknown revision 'HEAD': this repository has no commits yet"):
            repository.resolve(found, "HEAD")

    def test_everything_is_staged_before_the_first_commit(self, repo: Scratch) -> None:
        repo.write("recipes/a.toml", "1")
        repo.git("add", ".")

        assert repository.staged_paths(opened(repo), "recipes") == ["recipes/a.toml"]

    @pytest.mark.parametrize(
        "rev", ["no-such", "-h", "--all", "--help", "HEAD~9", "", "a\nb", "a\0b", "HEAD:a.toml", "\udcff"]
    )
    def test_what_is_no_commit_is_one_line_and_never_an_option(self, repo: Scratch, rev: str) -> None:
        repo.commit({"a.toml": "1"})

        with pytest.raises(UserError, match="unknown revision") as caught:
            repository.resolve(opened(repo), rev)

        assert "\n" not in str(caught.value)

    def test_every_form_of_a_commit_is_known(self, repo: Scratch) -> None:
        commit = repo.commit({"a.toml": "1"}, "first words")
        repo.git("tag", "--annotate", "--message", "x", "v1")
        found = opened(repo)

        for rev in ("HEAD", "@", "main", "v1", commit, commit[:8], ":/first words", "HEAD^0"):
            assert commit == repository.resolve(found, rev)

    def test_a_shallow_clone_says_how_to_get_the_rest(self, repo: Scratch, tmp_path: Path) -> None:
        first = repo.commit({"a.toml": "1"})
        repo.commit({"a.toml": "2"})
        repo.git("checkout", "-q", "-b", "side", first)
        repo.commit({"b.toml": "2"})
        shallow = tmp_path / "shallow"
        repo.git("clone", "-q", "--depth=1", "--no-single-branch", f"file://{repo.top}", str(shallow))
        found = repository.open_repo(shallow)

        assert repository.is_shallow(found)
        assert not repository.is_shallow(opened(repo))
        with pytest.raises(
            UserError, match=r"unknown revision 'HEAD~1'; this clone is shallow: `git fetch --unshallow`"
        ):
            repository.resolve(found, "HEAD~1")
        with pytest.raises(UserError, match=r"no commit in common here; this clone is shallow"):
            repository.merge_base(found, "origin/main", "origin/side")

    def test_a_merge_base_is_where_the_branch_began(self, repo: Scratch) -> None:
        first = repo.commit({"a.toml": "1"})
        repo.commit({"a.toml": "2"})
        repo.git("checkout", "-q", "-b", "side", first)
        repo.commit({"b.toml": "2"})
        repo.git("checkout", "-q", "--orphan", "lone")
        repo.commit({"c.toml": "2"})
        found = opened(repo)

        assert first == repository.merge_base(found, "main", "side")
        with pytest.raises(UserError, match=r"^'main' and 'lone' have no commit in common$"):
            repository.merge_base(found, "main", "lone")

    def test_a_detached_head_has_no_branch(self, repo: Scratch) -> None:
        repo.commit({"a.toml": "1"})
        repo.git("checkout", "-q", "--detach")
        found = opened(repo)

        assert repository.current_branch(found) is None
        assert repository.default_branch(found) == "main"
        assert not repository.head_branch_is_default(found)

    def test_the_default_branch_is_the_remotes_head_then_the_configured_one_then_main(
        self, repo: Scratch, tmp_path: Path
    ) -> None:
        repo.commit({"a.toml": "1"})
        repo.git("branch", "trunk")
        assert repository.default_branch(opened(repo)) == "main"
        repo.git("config", "init.defaultBranch", "trunk")
        assert repository.default_branch(opened(repo)) == "trunk"
        assert not repository.head_branch_is_default(opened(repo))

        repo.git("clone", "-q", str(repo.top), str(tmp_path / "clone"))
        found = repository.open_repo(tmp_path / "clone")
        assert repository.default_branch(found) == "origin/main"
        assert repository.head_branch_is_default(found)
        Scratch(tmp_path / "clone").git("checkout", "-q", "-b", "idea")
        assert not repository.head_branch_is_default(found)
        assert repository.default_branch(found) == "origin/main"

    def test_a_branch_and_a_tag_of_its_short_name_are_not_the_default_branch(
        self, repo: Scratch, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        repo.commit({**MINIMAL})
        repo.git("clone", "-q", str(repo.top), str(tmp_path / "clone"))
        clone = Scratch(tmp_path / "clone")
        clone.git("checkout", "-q", "-b", "origin/main", "--no-track")
        clone.commit({"cream.toml": MINIMAL["cream.toml"].replace("5.00", "4.00")})
        clone.git("tag", "origin/main")
        monkeypatch.chdir(clone.top)

        assert not repository.head_branch_is_default(opened(clone))
        assert main(["review"]) == 0

        said = capsys.readouterr().out
        assert "origin/main...HEAD" in said
        assert "5.00 \u2192 4.00 %" in said

    def test_a_remote_without_a_head_still_gives_its_main(self, repo: Scratch, tmp_path: Path) -> None:
        repo.commit({"a.toml": "1"})
        clone = scratch(tmp_path / "ci")
        clone.git("remote", "add", "origin", str(repo.top))
        clone.git("fetch", "-q", "origin")

        assert repository.default_branch(opened(clone)) == "origin/main"

    def test_a_commit_is_described(self, repo: Scratch) -> None:
        commit = repo.commit({"a.toml": "1"}, "Less gum\n\nReason: tack")

        line = repository.log_line(opened(repo), commit)

        assert line[1:] == ("Ada Formulator", "2026-05-02", "Less gum")
        assert commit.startswith(line.short)

    @pytest.mark.parametrize(
        ("given", "parts"),
        [
            ("a", ("a", None, "")),
            ("a..b", ("a", "b", "..")),
            ("a...b", ("a", "b", "...")),
            ("..b", ("HEAD", "b", "..")),
            ("a...", ("a", "HEAD", "...")),
            ("v1.2..v1.3", ("v1.2", "v1.3", "..")),
            ("HEAD^{/see a..b}", ("HEAD^{/see a..b}", None, "")),
            ("HEAD^{/a..b}...x", ("HEAD^{/a..b}", "x", "...")),
            ("a{", ("a{", None, "")),
        ],
    )
    def test_ranges_are_split_as_git_does(self, given: str, parts: tuple[str, str | None, str]) -> None:
        assert parts == repository.split_range(given)


class TestListings:
    def test_odd_names_come_through_and_go_back(self, repo: Scratch) -> None:
        names = [b"recipes/\xff.toml", b"recipes/a\nb.toml", b"recipes/*.toml", 'recipes/"ü".toml'.encode()]
        (repo.top / "recipes").mkdir()
        for name in names:
            (Path(os.fsdecode(os.fsencode(repo.top) + b"/" + name))).write_text("1")
        commit = repo.commit({"recipes/-x.toml": "2", "recipesque.toml": "3"})
        found = opened(repo)
        expected = sorted([*names, b"recipes/-x.toml"])

        for entries in (repository.tree_entries(found, commit, "recipes"), repository.index_entries(found, "recipes")):
            assert expected == sorted(e.path.encode("utf-8", "surrogateescape") for e in entries)
        assert [e.path for e in repository.index_entries(found, "recipes/*.toml")] == ["recipes/*.toml"]
        assert [e.path for e in repository.tree_entries(found, commit, "recipes/\udcff.toml")] == [
            "recipes/\udcff.toml"
        ]

    def test_modes_tell_links_and_submodules(self, repo: Scratch) -> None:
        (repo.top / "link.toml").symlink_to("/etc/passwd")
        first = repo.commit({"run.toml": "1"})
        repo.git("update-index", "--add", "--cacheinfo", f"160000,{first},sub")
        repo.git("update-index", "--chmod=+x", "run.toml")

        modes = {e.path: e.mode for e in repository.index_entries(opened(repo))}

        assert modes == {"link.toml": repository.SYMLINK, "run.toml": "100755", "sub": repository.SUBMODULE}

    def test_a_conflict_is_one_marked_entry_ours_first(self, repo: Scratch) -> None:
        first = repo.commit({"a.toml": "base", "b.toml": "base", "c.toml": "same"})
        repo.commit({"a.toml": "theirs", "b.toml": "theirs"})
        repo.git("checkout", "-q", "-b", "mine", first)
        (repo.top / "b.toml").unlink()
        repo.commit({"a.toml": "ours"})
        repo.git("merge", "-q", "main", status=1)
        found = opened(repo)

        entries = {e.path: e for e in repository.index_entries(found)}

        assert repository.merging(found)
        assert {p: e.unmerged for p, e in entries.items()} == {"a.toml": True, "b.toml": True, "c.toml": False}
        assert repository.blob_id(b"ours") == entries["a.toml"].oid
        assert repository.blob_id(b"theirs") == entries["b.toml"].oid

    def test_an_announced_file_is_not_in_the_next_commit_and_an_empty_one_is(self, repo: Scratch) -> None:
        repo.commit({"empty.toml": ""})
        repo.write("later.toml", "1")
        repo.git("add", "--intent-to-add", "later.toml")

        assert [e.path for e in repository.index_entries(opened(repo))] == ["empty.toml"]
        assert repository.staged_paths(opened(repo)) == []

    def test_changed_and_staged_paths_count_deletions_and_both_names_of_a_rename(self, repo: Scratch) -> None:
        old = repo.commit({"r/a.toml": "x\n" * 20, "r/b.toml": "1", "other": "1"})
        repo.git("mv", "r/a.toml", "r/z.toml")
        repo.git("rm", "-q", "r/b.toml", "other")
        assert repository.staged_paths(opened(repo), "r") == ["r/a.toml", "r/b.toml", "r/z.toml"]
        new = repo.commit({})

        assert repository.changed_paths(opened(repo), old, new, "r") == ["r/a.toml", "r/b.toml", "r/z.toml"]
        assert repository.changed_paths(opened(repo), new, new) == []

    def test_configured_diff_programs_and_colours_take_no_part(self, repo: Scratch) -> None:
        old = repo.commit({"a.toml": "1", ".gitattributes": "*.toml diff=boom\n"})
        for key, value in (("diff.boom.textconv", "false"), ("diff.external", "false"), ("color.ui", "always")):
            repo.git("config", key, value)
        new = repo.commit({"a.toml": "2"})

        assert repository.changed_paths(opened(repo), old, new) == ["a.toml"]


class TestInsideHooks:
    CODE = child("print(sorted((e.path, e.oid[:7]) for e in repository.index_entries(r)))")

    def entries(self, repo: Scratch, *commit: str, top: Scratch | None = None) -> str:
        log = repo.top.parent / "hook.log"
        repo.hook("pre-commit", f"{self.CODE} > '{log}'")
        (top or repo).git("commit", "-q", "-m", "x", *commit)
        return log.read_text().strip()

    def expected(self, **files: str) -> str:
        return str(sorted((f"{stem}.toml", repository.blob_id(text.encode())[:7]) for stem, text in files.items()))

    def test_commit_all_shows_the_index_of_that_commit(self, repo: Scratch) -> None:
        repo.commit({"a.toml": "1", "b.toml": "1"})
        repo.write("a.toml", "2")

        assert self.expected(a="2", b="1") == self.entries(repo, "--all")

    def test_commit_of_one_path_leaves_out_what_else_is_staged(self, repo: Scratch) -> None:
        repo.commit({"a.toml": "1", "b.toml": "1"})
        repo.write("a.toml", "2")
        repo.write("b.toml", "2")
        repo.git("add", "b.toml")

        assert self.expected(a="2", b="1") == self.entries(repo, "--", "a.toml")

    def test_a_linked_work_tree_shows_its_own_index(self, repo: Scratch, tmp_path: Path) -> None:
        repo.commit({"a.toml": "1"})
        repo.git("worktree", "add", "-q", "-b", "side", str(tmp_path / "linked"))
        repo.write("main-only.toml", "9")
        repo.git("add", ".")
        linked = Scratch(tmp_path / "linked")
        linked.write("b.toml", "2")
        linked.git("add", ".")

        assert self.expected(a="1", b="2") == self.entries(repo, top=linked)


class TestBlobs:
    def test_names_are_gits(self, repo: Scratch, tmp_path: Path) -> None:
        file = repo.write("a", b"\0some\r\nbytes")
        assert repo.git("hash-object", "--no-filters", "a").strip() == repository.blob_id(file.read_bytes())
        modern = scratch(tmp_path / "sha256", "--object-format=sha256")
        modern.commit({"a": file.read_bytes()})
        (entry,) = repository.index_entries(opened(modern))

        assert entry.oid == repository.blob_id(file.read_bytes(), len(entry.oid))
        assert repository.staged_paths(opened(modern)) == []
        with repository.BlobReader(opened(modern)) as blobs:
            assert file.read_bytes() == blobs.read(entry.oid, LIMIT)

    def test_a_50_mb_blob_is_passed_by_without_being_held(self, repo: Scratch) -> None:
        size = 50_000_000
        repo.commit({"big.toml": bytes(size), "small.toml": "1"})
        big, small = repository.index_entries(opened(repo))
        with repository.BlobReader(opened(repo)) as blobs:
            blobs.read(small.oid, LIMIT)
            tracemalloc.start()

            assert repository.Oversized(size) == blobs.read(big.oid, LIMIT)
            peak = tracemalloc.get_traced_memory()[1]
            tracemalloc.stop()
            assert peak < 2_000_000
            assert blobs.read(small.oid, LIMIT) == b"1"

    def test_the_limit_is_the_largest_size_that_is_read(self, repo: Scratch) -> None:
        repo.commit({"a": "12345", "empty": ""})
        five, empty = repository.index_entries(opened(repo))
        with repository.BlobReader(opened(repo)) as blobs:
            assert blobs.read(five.oid, 5) == b"12345"
            assert repository.Oversized(5) == blobs.read(five.oid, 4)
            assert blobs.read(empty.oid, 0) == b""

    def test_what_is_no_blob_is_said_and_the_reader_goes_on(self, repo: Scratch) -> None:
        commit = repo.commit({"a": "1"})
        (entry,) = repository.index_entries(opened(repo))
        with repository.BlobReader(opened(repo)) as blobs:
            for oid, words in (
                ("0" * 40, "missing"),
                (commit, "is a commit, not a file"),
                ("a\nb", "not an object id"),
            ):
                with pytest.raises((GitFailed, UserError), match=words):
                    blobs.read(oid, LIMIT)
            assert blobs.read(entry.oid, LIMIT) == b"1"

    def test_5_000_blobs_do_not_deadlock_and_keep_their_order(self, repo: Scratch) -> None:
        """Each is larger than a pipe holds in part, so git and we would wait for each other if we wrote on."""
        texts = [f"{n}\n" * (1 + n % 7 * 500) for n in range(5000)]
        stream = "".join(f"blob\nmark :{n + 1}\ndata {len(t)}\n{t}\n" for n, t in enumerate(texts))
        subprocess.run(["git", "fast-import", "--quiet"], input=stream.encode(), cwd=repo.top, check=True)
        oids = [repository.blob_id(text.encode()) for text in texts]
        with repository.BlobReader(opened(repo)) as blobs:
            read = list(blobs.read_many(iter(oids), LIMIT))

        assert oids == [oid for oid, _ in read]
        assert (
            hashlib.sha256("".join(texts).encode()).digest()
            == hashlib.sha256(b"".join(data for _, data in read if isinstance(data, bytes))).digest()
        )

    def test_reads_may_be_mixed_and_left_early(self, repo: Scratch) -> None:
        repo.commit({f"f{n:03}": f"text {n}" for n in range(300)})
        entries = repository.index_entries(opened(repo))
        with repository.BlobReader(opened(repo)) as blobs:
            many = blobs.read_many([e.oid for e in entries], LIMIT)
            for n, (oid, data) in enumerate(many):
                assert (entries[n].oid, f"text {n}".encode()) == (oid, data)
                assert f"text {299 - n}".encode() == blobs.read(entries[299 - n].oid, LIMIT)
                if n == 150:
                    break

            assert blobs.read(entries[7].oid, LIMIT) == b"text 7"
            second = blobs.read_many([e.oid for e in entries[:2]], 2)
            assert [(e.oid, repository.Oversized(6)) for e in entries[:2]] == list(second)

    def test_a_reader_left_with_replies_on_their_way_ends_at_once(self, repo: Scratch) -> None:
        repo.commit({f"f{n}": f"{n}" + "x" * 200_000 for n in range(30)})
        blobs = repository.BlobReader(opened(repo))
        next(blobs.read_many([e.oid for e in repository.index_entries(opened(repo))], LIMIT))
        process = blobs._process
        blobs.close()

        assert process is not None
        assert process.returncode is not None

    def test_a_process_that_dies_is_one_line(self, repo: Scratch) -> None:
        repo.commit({"a": "1"})
        (entry,) = repository.index_entries(opened(repo))
        with repository.BlobReader(opened(repo)) as blobs:
            blobs.read(entry.oid, LIMIT)
            assert blobs._process is not None
            blobs._process.kill()
            blobs._process.wait()
            with pytest.raises(GitFailed, match="git stopped while reading"):
                blobs.read(entry.oid, LIMIT)


def test_folders_of_killed_processes_are_taken_away(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    dead = subprocess.run([sys.executable, "-c", "import os; print(os.getpid())"], capture_output=True, check=True)
    for owner in (dead.stdout.decode().strip(), str(os.getpid()), "x"):
        (tmp_path / f"formula-merge-{owner}-abc").mkdir()
    with running.passing_folder() as name:
        left = {path.name.split("-")[2] for path in tmp_path.iterdir() if path != Path(name)}

    assert left == {str(os.getpid()), "x"}
