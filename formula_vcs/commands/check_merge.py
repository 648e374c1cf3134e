"""``git formula check --merge A B``: judge what a merge would make, without making it."""

from __future__ import annotations

import argparse
import datetime
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

from formula_vcs.commands import workspace_args
from formula_vcs.diff.match import Grade
from formula_vcs.errors import UserError
from formula_vcs.git import repository
from formula_vcs.git.would_merge import Three, WouldMerge, would_merge
from formula_vcs.merge.merge_facts import edits_between
from formula_vcs.merge.merge_file import merge_texts
from formula_vcs.merge.three_way import ThreeWay
from formula_vcs.model.approval import SIGNATURE
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.ingredient import main_substance
from formula_vcs.model.values import dataclass, replace
from formula_vcs.toml.readers import facts_of
from formula_vcs.toml.syntax import parse
from formula_vcs.workspace.snapshot import WORKSPACE_FILE, Overlay, Snapshot, kind_of


@dataclass(frozen=True)
class JudgedMerge:
    """What is said about the merge in one workspace, and how many recipes it would have."""

    place: workspace_args.WorkspaceRef
    findings: tuple[Finding, ...]
    recipes: int
    listing: frozenset[str]


def judged(args: argparse.Namespace, day: datetime.date) -> Iterator[JudgedMerge]:
    """Judge the merge of two commits in every workspace that either has.

    :raises UserError: an unknown revision, no common commit, no workspace.
    """
    ours, theirs = args.merge
    repo = repository.open_repo(Path.cwd() / (args.workspace or ""))
    with would_merge(repo, ours, theirs) as merge:
        for place in _places(args, merge):
            one = _Merge(place, repo, merge, (ours, theirs), day, guard=args.guard)
            try:
                yield one.judged()
            finally:
                for side in (one.sides.ours, one.sides.base, one.sides.theirs):
                    side.source.close()


def _places(args: argparse.Namespace, merge: WouldMerge) -> list[workspace_args.WorkspaceRef]:
    found: dict[Path, workspace_args.WorkspaceRef] = {}
    missing: UserError | None = None
    for commit in (merge.ours, merge.theirs):
        try:
            found.update({place.root: place for place in workspace_args.places(args.workspace, commit, every=True)})
        except UserError as error:
            missing = error
    if not found and missing is not None:
        raise missing
    return list(found.values())


_COUNTS: Final = (".toml", SIGNATURE)


class _Merge:
    """One merge in one workspace."""

    def __init__(
        self,
        place: workspace_args.WorkspaceRef,
        repo: repository.Repo,
        merge: WouldMerge,
        names: tuple[str, str],
        day: datetime.date,
        *,
        guard: Severity | None,
    ) -> None:
        self.place = place
        self.merge = merge
        self.names = names
        self.day = day
        self.guard = guard
        self.repo = repo
        self.sides = ThreeWay(*(self._at(commit) for commit in (merge.ours, merge.base, merge.theirs)))
        self.by_text = self._with(merge.files)
        self.said: list[Finding] = []

    def judged(self) -> JudgedMerge:
        """Say what clashes, then judge both what the driver and what a text merge would make."""
        files = {**self.merge.files, **self._driven()}
        driven = self._with(files)
        for path, words in self.merge.other:
            inside = self._inside(path)
            if inside is not None:
                self._say(inside, "block", self._named(words), "other")
        found = list(self._findings(driven))
        known = {finding.fingerprint for finding in (*found, *self.said)}
        if any(path not in self.merge.conflicts for path in self.merge.both):
            # what clashes as text is no file of a recipe: a merge button would not make it
            plain = {p: c for p, c in self.merge.files.items() if p not in self.merge.conflicts}
            found += [
                replace(finding, message=f"{finding.message} (as a text merge makes it)")
                for finding in (() if plain == files else self._findings(self._with(plain)))
                if finding.fingerprint not in known and finding.severity == "block"
            ]
        found += (*self._unjudged(driven), *self._guarded(driven))
        return JudgedMerge(self.place, (*self.said, *found), len(driven.ids("recipe")), frozenset(driven.listing))

    def _at(self, commit: str) -> Snapshot:
        return self.place.commit(commit, "merge")

    def _with(self, files: Mapping[str, bytes | None]) -> Snapshot:
        inside = {self._inside(path): content for path, content in files.items()}
        counts = {path: content for path, content in inside.items() if path is not None and path.endswith(_COUNTS)}
        return Snapshot(Overlay(self.sides.ours.source, counts), self.place.store)

    def _inside(self, path: str) -> str | None:
        if not self.place.folder:
            return path
        lead = f"{self.place.folder}/"
        return path.removeprefix(lead) if path.startswith(lead) else None

    def _named(self, words: str) -> str:
        """Call the two commits in git's words as they were called in the command."""
        for commit, name in zip((self.merge.ours, self.merge.theirs), self.names, strict=True):
            words = words.replace(commit, name)
        return words

    def _say(self, path: str, severity: Severity, words: str, subject: str, at: tuple[str, ...] = ()) -> None:
        """Say something of a file, at the line where ours has a fact."""
        what = f"merging {self.names[0]} and {self.names[1]}: {words}"
        self.said.append(self.sides.ours.place(Finding("conflict", severity, what, path, at, subject=subject)))

    # File by file

    def _driven(self) -> dict[str, bytes | None]:
        """Merge each file that both sides changed as the merge driver does, and say where a text merge differs."""
        found: dict[str, bytes | None] = {}
        for path, three in sorted(self.merge.both.items()):
            inside = self._inside(path)
            if inside is None:
                continue
            content = self._file(inside, three, path) if inside in self.by_text.listing else None
            if content is not None:
                found[path] = content
            elif path in self.merge.conflicts:
                self._say(inside, "block", "its lines clash, and it cannot be merged in meaning", "text")
                found[path] = three.ours
        return found

    def _file(self, path: str, three: Three, full: str) -> bytes | None:
        if three.ours is None or three.theirs is None:
            return None
        kind = kind_of(path)
        merged = merge_texts(kind, ThreeWay(three.ours, three.base or b"", three.theirs), self._grades())
        if merged is None:
            return None
        if merged.clashes:
            for clash in merged.clashes:
                words = clash.words if full in self.merge.conflicts else f"{clash.words}; a text merge would pass it"
                self._say(path, "block", words, clash.where, tuple(clash.where.split("/")))
            return three.ours
        if full in self.merge.conflicts:
            self._say(path, "warn", "only its lines clash, not what they mean; merge it on an armed clone", "text")
        elif self._facts(kind, self.merge.files.get(full)) != self._facts(kind, merged.text.encode()):
            self._say(path, "warn", "a text merge makes another file of it than the merge driver", "differs")
        return merged.text.encode("utf-8", "surrogateescape")

    @staticmethod
    def _facts(kind: str, content: bytes | None) -> object:
        parsed = parse(content or b"")
        return None if parsed.errors else facts_of(kind, parsed.data)

    def _grades(self) -> ThreeWay[Grade]:
        def of(side: Snapshot) -> Grade:
            return lambda name: main_substance(side.ingredient(name))

        return ThreeWay(of(self.sides.ours), of(self.sides.base), of(self.sides.theirs))

    # The whole

    def _findings(self, snapshot: Snapshot) -> Iterator[Finding]:
        from formula_vcs.evidence.judge_workspace import judge_workspace

        if not snapshot.exists:
            return
        known: set[str] | None = None
        for finding in judge_workspace(snapshot, self.day, self.repo):
            placed = snapshot.place(finding)
            if finding.severity == "block":
                if known is None:
                    known = {
                        other.fingerprint
                        for side in (self.sides.ours, self.sides.theirs)
                        if side.exists
                        for other in judge_workspace(side, self.day, self.repo)
                    }
                if finding.fingerprint not in known:
                    placed = replace(placed, message=f"{placed.message}{self._whose(snapshot, finding)}")
            yield placed

    def _unjudged(self, driven: Snapshot) -> Iterator[Finding]:
        """Say that nothing is judged any more, where the merge takes the workspace away."""
        if not self.sides.ours.exists or driven.exists:
            return
        from formula_vcs.review.loosenings import Loosening

        left = len(driven.ids("recipe"))
        words = f"the merge takes {WORKSPACE_FILE} away: nothing here is judged any more, {left} recipes among it"
        found = Loosening("extent", words, WORKSPACE_FILE).finding(self.guard or ("block" if left else "warn"))
        yield self.sides.ours.place(found)

    def _guarded(self, driven: Snapshot) -> Iterator[Finding]:
        """Say what the merge loosens of how ours judges, by ours's own word about who may approve that."""
        ours = self.sides.ours
        if self.guard is None or not ours.exists or not driven.exists:
            return
        from formula_vcs.commands.approved_guard import approved, said_of
        from formula_vcs.review.guard import guard

        found = guard(ours, driven, self.day)
        passing = said_of(found, self.place, (ours, driven), (self.merge.ours, self.merge.theirs), {})
        for item, words in zip(found, passing, strict=True):
            yield approved(driven.place(item.finding()), words, self.guard)

    def _whose(self, snapshot: Snapshot, finding: Finding) -> str:
        """Name the edits of both branches that together bring what neither has."""
        if finding.recipe is None:
            return ""
        found = edits_between(self.sides, snapshot, finding, self.day)
        said = [f"{name}: {'; '.join(words)}" for name, words in zip(self.names, found, strict=True) if words]
        return f" [{'. '.join(said)}]" if said else ""
