"""A house with real ssh keys, real git and a trust file: what approving is tried in."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from formula_vcs.approvals import asking
from formula_vcs.approvals.judging import Approvals
from formula_vcs.cli import main
from formula_vcs.git import repository
from formula_vcs.model.approval import ApprovalStanding, approval_rows, needed
from formula_vcs.workspace.snapshot import Committed, Snapshot
from tests.conftest import MINIMAL, GitRepo

ASKING = MINIMAL["workspace.toml"] + '\n[[approval]]\nroles = ["RD", "QA"]\n'
PEOPLE = {"quentin": ("QA", "trust"), "rhea": ("RD", "trust"), "mako": ("RD",), "zoe": ("QA", "RD")}


class House:
    """A repository with a trust file; ``keys`` holds the private keys of people by name."""

    def __init__(self, repo: GitRepo, keys: Path) -> None:
        self.repo = repo
        self.keys = keys

    def key(self, name: str) -> Path:
        """Give somebody's private key, made when it is first asked for."""
        path = self.keys / name
        if not path.exists():
            self.keys.mkdir(exist_ok=True)
            subprocess.run(
                ["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-C", f"{name}@x", "-f", str(path)], check=True
            )
        return path

    def public(self, name: str) -> str:
        """Give somebody's public key as its file has it."""
        return self.key(name).with_suffix(".pub").read_text("utf-8").strip()

    def trust(self, people: Mapping[str, tuple[str, ...]] = PEOPLE, more: str = "") -> str:
        """Write a trust file."""
        parts = [
            f'[person.{name}]\nname = "{name.title()}"\nroles = {list(roles)}\nemails = ["{name}@example.org"]\n'
            f'keys = ["{self.public(name)}"]\n'
            for name, roles in people.items()
        ]
        return (more + "\n" + "\n".join(parts)).replace("'", '"')

    def commit(self, files: Mapping[str, str | bytes] | None = None, by: str = "maker", message: str = "change") -> str:
        """Commit everything as somebody."""
        self.repo.write(files or {})
        self.repo.git("add", "--all")
        who = ("-c", f"user.name={by}", "-c", f"user.email={by}@example.org")
        author = f"--author={by} <{by}@example.org>"
        self.repo.git(*who, "commit", "--quiet", "--allow-empty", author, f"--message={message}")
        return self.repo.git("rev-parse", "HEAD")

    def run(self, *words: str) -> int:
        """Run a command of ours here."""
        before = Path.cwd()
        os.chdir(self.repo.path)
        try:
            return main(list(words))
        finally:
            os.chdir(before)

    def approve(self, who: str, role: str, *more: str, recipe: str = "cream") -> int:
        """Have somebody approve what HEAD has; nothing is committed."""
        self.repo.git("config", "user.signingkey", str(self.key(who)))
        return self.run("approve", recipe, "--role", role, "--yes", *more)

    def approved(self, who: str, role: str, *more: str) -> str:
        """Have somebody approve, and commit it."""
        assert self.approve(who, role, *more) == 0
        return self.commit(by=who, message=f"{who} approves")

    @contextmanager
    def asked(self, commit: str = "HEAD", base: str | None = None) -> Iterator[tuple[Approvals, Snapshot]]:
        """Open the approvals as seen from a commit."""
        repo = repository.open_repo(self.repo.path)
        oid = repository.resolve(repo, commit)
        believed = None if base is None else asking.BelievedBase(repository.resolve(repo, base), base)
        opened = asking.opened(repo, "", oid, believed)
        with opened as found, Snapshot(Committed(repo, oid, "", commit)) as snapshot:
            yield found, snapshot

    def standing(self, recipe: str = "cream", commit: str = "HEAD", base: str | None = None) -> ApprovalStanding:
        """Say how a recipe stands."""
        with self.asked(commit, base) as (found, snapshot):
            read = snapshot.recipe(recipe)
            assert read is not None
            need = found.need(read) | needed(approval_rows(snapshot.workspace.facts), read)
            return found.standing(snapshot.formula(read), need)

    def states(self, recipe: str = "cream", commit: str = "HEAD", base: str | None = None) -> dict[str, str]:
        """Give the state of each role."""
        return {role.role: role.state for role in self.standing(recipe, commit, base).roles}

    def words(self, role: str, recipe: str = "cream", commit: str = "HEAD", base: str | None = None) -> str:
        """Give the words about a role."""
        found = self.standing(recipe, commit, base)
        return next(one.words for one in found.roles if one.role == role)

    def files(self) -> list[Path]:
        """Give the payloads that lie here."""
        return sorted(path for path in (self.repo.path / "approvals").rglob("*.toml") if path.name != "trust.toml")


def house(repo: GitRepo, keys: Path, people: Mapping[str, tuple[str, ...]] = PEOPLE) -> House:
    """Begin a house: the first commit has a recipe and the rows, the second the trust."""
    made = House(repo, keys)
    made.commit({**MINIMAL, "workspace.toml": ASKING}, message="begin")
    made.commit({"approvals/trust.toml": made.trust(people)}, message="who may sign")
    return made
