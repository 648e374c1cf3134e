"""Evidence with real git: recorded, refused, judged in a review and shown."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from formula_vcs.cli import main
from formula_vcs.git import repository
from formula_vcs.model.content_hash import content_hash
from formula_vcs.workspace.snapshot import Committed, Snapshot
from tests.commands.bench_repo import POLISH, SCHEMAS, SHOP, golden, run

Make = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]


@pytest.fixture
def shop(git_repo: Make, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Give a committed shop and stand in it."""
    repo = git_repo(SHOP)
    monkeypatch.chdir(repo.path)
    return repo


def pin(repo: Any, recipe: str = "polish", revision: str = "HEAD") -> tuple[str, str]:
    """Give commit and content hash of a recipe at a revision, worked out without the command that prints them."""
    found = repository.open_repo(repo.path, inherit=False)
    commit = repository.resolve(found, revision)
    with Snapshot(Committed(found, commit, "", revision)) as snapshot:
        made = snapshot.recipe(recipe)
        assert made is not None
        return commit, content_hash(made, snapshot.formula(made).premixes)


def proof(commit: str, hashed: str, kind: str = "stability", report: str = "ST-1", more: str = "") -> str:
    return (
        f'\n[[proof]]\nkind   = "{kind}"\ncommit = "{commit}"\nhash   = "{hashed}"\n'
        f'report = "{report}"\npassed = 2026-05-02\n{more}'
    )


def evidence(*proofs: str, recipe: str = "polish") -> dict[str, str]:
    return {"evidence/polish.toml": f'recipe = "{recipe}"\n{"".join(proofs)}'}


def glycerin(amount: str) -> dict[str, str]:
    return {"polish.toml": POLISH.replace("14.00", amount)}


class TestRecording:
    """`check` and the hook refuse what proves nothing."""

    def test_what_the_command_prints_can_be_recorded(self, shop: Any, capsys: Capsys) -> None:
        shown = run(capsys, "show", "polish", "--evidence").lines
        block = "\n".join(shown[shown.index('recipe = "polish"') :])
        assert f'commit = "{pin(shop)[0]}"' in block
        assert f'hash = "{pin(shop)[1]}"' in block.replace("   =", " =")

        shop.write({"evidence/polish.toml": block.replace('report = ""', 'report = "ST-1"') + "\n"})

        assert 0 == run(capsys, "check").status
        text = run(capsys, "show", "polish", "--evidence").out
        assert "stability ST-1: covers this version" in text

    @pytest.mark.parametrize(
        ("change", "said"),
        [
            (lambda commit, hashed: ("0" * 40, hashed), "evidence/polish.toml:5:10: block [evidence-commit]"),
            (lambda commit, hashed: (commit, "0" * 64), "evidence/polish.toml:6:10: block [evidence-hash]"),
            (lambda commit, hashed: (commit[:12], hashed), "evidence/polish.toml:5:10: warn [evidence-commit]"),
        ],
    )
    def test_a_pin_that_is_wrong(
        self, shop: Any, capsys: Capsys, change: Callable[[str, str], tuple[str, str]], said: str
    ) -> None:
        shop.write(evidence(proof(*change(*pin(shop)))))

        found = run(capsys, "check")
        assert said in found.lines
        assert ("block" in said) == (found.status == 1)

    def test_a_version_that_did_not_pass(self, shop: Any, capsys: Capsys) -> None:
        shop.commit("short", {"polish.toml": POLISH.replace('"to 100"', "60.00")})
        bad = pin(shop)
        shop.commit("mended", {"polish.toml": POLISH, **evidence(proof(*bad))})

        found = run(capsys, "check")
        assert 1 == found.status
        assert "evidence/polish.toml:5:10: block [evidence-passes]" in found.lines
        assert "'polish' in commit" in found.out

    def test_the_hook_refuses_it_and_loads_nothing_for_it_where_there_is_none(self, shop: Any) -> None:
        assert 0 == main(["init", "--hooks", "plain", "."])
        shop.write(evidence(proof("0" * 40, pin(shop)[1])))
        shop.git("add", "--all")

        done = subprocess.run(
            ["git", "commit", "-m", "evidence"], cwd=shop.path, capture_output=True, text=True, check=False
        )
        assert 0 != done.returncode
        assert "evidence-commit" in done.stdout + done.stderr

    def test_a_commit_that_is_not_on_the_default_branch_is_a_note(self, shop: Any, capsys: Capsys) -> None:
        """A squash would lose it; merged, it is fine."""
        shop.git("switch", "--quiet", "--create", "proposal")
        shop.commit("glycerin", glycerin("13.90"))
        shop.commit("study", evidence(proof(*pin(shop))))
        there = run(capsys, "check")
        assert 0 == there.status
        assert "evidence/polish.toml:5:10: note [evidence-commit]" in there.lines
        assert "is not on the default branch" in " ".join(there.out.split())

        shop.git("switch", "--quiet", "main")
        shop.git("merge", "--quiet", "--no-ff", "proposal")
        assert "evidence-commit" not in run(capsys, "check").out

    def test_in_a_shallow_clone_it_is_a_warning(
        self, shop: Any, capsys: Capsys, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        recorded = evidence(proof(*pin(shop)))
        shop.commit("evidence", recorded)
        shop.git("clone", "--quiet", "--depth=1", f"file://{shop.path}", str(tmp_path / "shallow"))
        monkeypatch.chdir(tmp_path / "shallow")

        found = run(capsys, "check")
        assert 0 == found.status
        assert "evidence/polish.toml:5:10: warn [evidence-commit]" in found.lines
        assert "shallow" in found.out
        assert "cannot be judged here: this clone is shallow" in " ".join(
            run(capsys, "show", "polish", "--evidence").out.split()
        )

    def test_outside_git_it_is_a_note(
        self, shop: Any, capsys: Capsys, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        files = {**SHOP, **evidence(proof(*pin(shop)))}
        for name, text in files.items():
            (tmp_path / "plain" / name).parent.mkdir(parents=True, exist_ok=True)
            (tmp_path / "plain" / name).write_text(text)
        monkeypatch.chdir(tmp_path / "plain")

        found = run(capsys, "check")
        assert 0 == found.status
        assert "evidence/polish.toml:5:10: note [evidence-commit]" in found.lines
        assert (
            "No new proof of it can be recorded: it is not committed" in run(capsys, "show", "polish", "--evidence").out
        )


class TestReviewing:
    """Duties are judged against the version that was tested."""

    def test_salami_is_caught(self, shop: Any, capsys: Capsys) -> None:
        """Six commits of 1 % each; the review sees the last one only."""
        shop.commit("evidence", evidence(proof(*pin(shop))))
        shop.git("switch", "--quiet", "--create", "proposal")
        for amount in ("13.86", "13.72", "13.58", "13.44", "13.30"):
            shop.commit(f"glycerin {amount}", glycerin(amount))
            assert [] == run(capsys, "review", "HEAD~1", "--format", "json").json("diff")["recipes"][0]["duties"]
        shop.commit("glycerin 13.16", glycerin("13.16"))

        (duty,) = run(capsys, "review", "HEAD~1", "--format", "json").json("diff")["recipes"][0]["duties"]

        assert ["amount:phase/A/charge/glycerin"] == duty["because"]
        assert ("decide", False, "formulator") == (duty["must"], duty["standing"], duty["owner"])
        # some glycerin comes in the kelp gel, and that stayed
        assert "glycerin \u22125.75 % of its amount (beyond 5 %)" == duty["size"]

    def test_the_text_and_the_markdown_as_they_are_read(self, shop: Any, capsys: Capsys) -> None:
        here = pin(shop)
        more = 'market = "EU"\n'
        shop.commit("evidence", evidence(
            proof(*here), proof(*here, "challenge-test", "CT-1"), proof(*here, "artwork", "AW-1", more),
            proof(*here, "certificate", "C-1", 'scheme = "cosmos-natural-4"\nuntil  = 2026-07-01\n'),
        ))  # fmt: skip
        shop.write(glycerin("12.00"))

        text = run(capsys, "review").out
        text = text[text.index("  What has to follow") :]
        assert golden("review-duties.txt", text) == text
        assert 80 >= max(map(len, text.splitlines()))
        page = run(capsys, "review", "--format", "markdown").out
        page = page[page.index("#### What has to follow") :]
        assert golden("review-duties.md", page) == page

    def test_evidence_of_the_new_side_counts(self, shop: Any, capsys: Capsys) -> None:
        """A branch that changes the recipe and brings the study of the change has nothing left to do."""
        shop.commit("evidence", evidence(old := proof(*pin(shop))))
        shop.git("switch", "--quiet", "--create", "proposal")
        shop.commit("glycerin", glycerin("12.00"))
        assert 1 == len(run(capsys, "review", "--format", "json").json("diff")["recipes"][0]["duties"])
        shop.commit("study", evidence(old, proof(*pin(shop), report="ST-2")))

        data = run(capsys, "review", "--format", "json").json("diff")["recipes"][0]

        assert [] == data["duties"]
        assert [("ST-2", "covers")] == [(one["report"], one["state"]) for one in data["proofs"]]

    def test_the_day_is_respected(self, shop: Any, capsys: Capsys) -> None:
        shop.commit("evidence", evidence(proof(*pin(shop), more="until = 2026-06-30\n")))
        shop.write(glycerin("13.90"))

        days = ("2026-06-30", "2026-07-01")
        musts = [
            [duty["must"] for duty in run_on(capsys, day, "review", "--format", "json")["recipes"][0]["duties"]]
            for day in days
        ]
        assert [[], ["expired"]] == musts

    def test_a_renamed_recipe_keeps_its_evidence(self, shop: Any, capsys: Capsys) -> None:
        here = pin(shop)
        shop.commit("evidence", evidence(proof(*here)))
        shop.git("mv", "polish.toml", "scrub.toml")
        shop.write(
            {
                "scrub.toml": POLISH.replace("14.00", "12.00"),
                **evidence(proof(*here, more='called = "polish"\n'), recipe="scrub"),
            }
        )
        shop.git("add", "--all")

        (review,) = run(capsys, "review", "--staged", "--format", "json").json("diff")["recipes"]
        assert ("scrub", ["stability ST-1"]) == (review["recipe"], [duty["evidence"] for duty in review["duties"]])
        assert 0 == run(capsys, "check").status

    def test_a_renamed_recipe_does_not_lose_its_evidence_unnoticed(self, shop: Any, capsys: Capsys) -> None:
        """The file of the evidence still names the old id: a rename is no way around a study."""
        shop.commit("evidence", evidence(proof(*pin(shop))))
        shop.git("mv", "polish.toml", "scrub.toml")
        shop.commit("scrub", {"scrub.toml": POLISH.replace("14.00", "12.00")})

        (review,) = run(capsys, "review", "HEAD~1", "--format", "json").json("diff")["recipes"]

        assert ("scrub", ["stability ST-1"]) == (review["recipe"], [duty["evidence"] for duty in review["duties"]])
        assert "warn [evidence-recipe]" in run(capsys, "check").out

    def test_a_recipe_that_is_taken_away_leaves_its_evidence(self, shop: Any, capsys: Capsys) -> None:
        shop.commit("evidence", evidence(proof(*pin(shop))))
        (shop.path / "polish.toml").unlink()

        assert "Stability ST-1 counts for nothing: its recipe is gone." in run(capsys, "review").out
        check = run(capsys, "check")
        assert 0 == check.status
        assert "evidence/polish.toml:1:10: warn [evidence-recipe]" in check.lines

    def test_a_recipe_that_is_new_with_its_evidence(self, shop: Any, capsys: Capsys) -> None:
        """Tested and then changed, both on one branch."""
        shop.git("switch", "--quiet", "--create", "proposal")
        shop.commit("balm", {"balm.toml": POLISH.replace("Reef", "Skerry")})
        shop.commit("study", {"evidence/balm.toml": f'recipe = "balm"\n{proof(*pin(shop, "balm"))}'})
        shop.commit("more", {"balm.toml": POLISH.replace("Reef", "Skerry").replace("14.00", "12.00")})

        (review,) = run(capsys, "review", "main", "--format", "json").json("diff")["recipes"]

        assert ("added", ["stability ST-1"]) == (review["status"], [duty["evidence"] for duty in review["duties"]])

    def test_what_cannot_be_judged_is_not_called_covered(
        self, shop: Any, capsys: Capsys, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        shop.commit("evidence", evidence(proof(*pin(shop))))
        shop.commit("one", glycerin("12.00"))
        shop.commit("two", glycerin("11.00"))
        shop.git("clone", "--quiet", "--depth=2", f"file://{shop.path}", str(tmp_path / "shallow"))
        monkeypatch.chdir(tmp_path / "shallow")

        text = " ".join(run(capsys, "review", "HEAD~1", "HEAD").out.split())

        assert "Stability ST-1 cannot be judged here: this clone is shallow" in text
        assert "outdated by it" not in text

    def test_only_a_price_is_no_duty(self, shop: Any, capsys: Capsys) -> None:
        here = pin(shop)
        shop.commit(
            "evidence", evidence(*(proof(*here, kind, kind) for kind in ("stability", "artwork", "challenge-test")))
        )
        (path,) = [name for name in SHOP if name == "ingredients/glycerin.toml"]
        shop.write({path: SHOP[path] + '\n[[price]]\ncost = "9.00 EUR/kg"\nsince = 2026-05-01\n'})

        data = run(capsys, "review", "--format", "json").json("diff")
        assert data["recipes"]
        assert [[]] * len(data["recipes"]) == [review["duties"] for review in data["recipes"]]


def run_on(capsys: Capsys, day: str, *words: str) -> Any:
    """Run a command as of another day than the tests' own and give its json."""
    main([*words, "--as-of", day])
    return json.loads(capsys.readouterr().out)


class TestAhead:
    """`check --horizon`: when evidence ends."""

    def test_the_first_day_without_it(self, shop: Any, capsys: Capsys) -> None:
        here = pin(shop)
        proofs = (
            proof(*here, more="until = 2026-08-31\n"), proof(*here, "challenge-test", "CT-1", "until = 2026-07-31\n"),
            proof(*here, "challenge-test", "CT-2", "until = 9999-12-31\n"), proof(*here, "artwork", "AW-1"),
        )  # fmt: skip
        shop.write(evidence(*proofs))

        turns = run_on(capsys, "2026-06-01", "check", "--horizon", "3m", "--format", "json")["turns"]
        assert [("2026-09-01", "evidence-expired", "polish", "warn")] == [
            (turn["from"], *(turn["finding"][name] for name in ("rule", "recipe", "severity"))) for turn in turns
        ]
        assert (9, 1) == (turns[0]["finding"]["line"], turns[0]["finding"]["column"])

    @pytest.mark.parametrize(
        ("words", "count"),
        [
            ("2026-08-31 1m polish.toml", 1),
            ("2026-08-31 1m evidence/polish.toml", 1),
            ("2026-08-31 1m toner.toml", 0),
            ("2026-09-01 12m .", 0),
            ("2026-07-30 1m .", 0),
        ],
    )
    def test_which_days_and_which_files(self, shop: Any, capsys: Capsys, words: str, count: int) -> None:
        shop.write(evidence(proof(*pin(shop), more="until = 2026-08-31\n")))
        day, span, path = words.split()

        found = run_on(capsys, day, "check", "--horizon", span, "--format", "json", path)["turns"]
        assert count == sum(turn["finding"]["rule"] == "evidence-expired" for turn in found)


class TestShowing:
    """`show RECIPE --evidence`."""

    def test_as_it_is_read(self, shop: Any, capsys: Capsys) -> None:
        here = pin(shop)
        shop.commit("evidence", evidence(proof(*here), proof(*here, "artwork", "AW-1", 'market = "EU"\n')))
        shop.write(glycerin("12.00"))

        text = run(capsys, "show", "polish", "--evidence").out
        assert golden("show-evidence.txt", text) == text
        assert 80 >= max(map(len, text.splitlines()))
        page = run(capsys, "show", "polish", "--evidence", "--format", "markdown").out
        assert golden("show-evidence.md", page) == page

    def test_what_outdates_a_proof_in_many_ways_is_cut(self, shop: Any, capsys: Capsys) -> None:
        shop.commit("evidence", evidence(proof(*pin(shop))))
        steps = "".join(f'\n[[step]]\nid = "wait-{n}"\nrest = "1 h"\n' for n in range(30))
        shop.write({"polish.toml": POLISH.replace("\n[spec]", f"{steps}\n[spec]")})

        for form in ("text", "markdown"):
            out = run(capsys, "show", "polish", "--evidence", "--format", form).out
            assert (20, 1) == (out.count("is new"), out.count("and 10 more (json has them all)"))
        data = run(capsys, "show", "polish", "--evidence", "--format", "json").json("show")["evidence"]
        assert 30 == len(data["proofs"][0]["crossings"])

    def test_as_data(self, shop: Any, capsys: Capsys) -> None:
        here = pin(shop)
        shop.commit("evidence", evidence(proof(*here)))
        shop.commit("glycerin", glycerin("12.00"))

        now = run(capsys, "show", "polish", "--evidence", "--format", "json").json("show")["evidence"]
        then = run(capsys, "show", "polish@HEAD~1", "--evidence", "--format", "json").json("show")["evidence"]

        assert ["repeat", "covers"] == [one["proofs"][0]["state"] for one in (now, then)]
        assert [pin(shop), pin(shop, revision="HEAD~1")] == [(one["commit"], one["hash"]) for one in (now, then)]
        assert "" == now["lacking"]
        assert (SCHEMAS / "show.json").is_file()

    @pytest.mark.parametrize(
        ("files", "why"),
        [
            (glycerin("12.00"), "it is not committed as it is here"),
            ({"ingredients/glycerin.toml": SHOP["ingredients/glycerin.toml"] + "# x\n"}, ""),
            ({"polish.toml": POLISH.replace('"to 100"', "60.00")}, "it does not pass its check"),
            ({"toner.toml": SHOP["toner.toml"] + "# x\n"}, ""),
        ],
        ids=["edited", "comment", "broken", "another file"],
    )
    def test_what_a_new_proof_lacks(self, shop: Any, capsys: Capsys, files: dict[str, str], why: str) -> None:
        shop.write(files)

        found = run(capsys, "show", "polish", "--evidence", "--format", "json").json("show")["evidence"]

        assert why in found["lacking"]
        assert bool(found["lacking"]) != bool(found["block"])

    def test_an_ingredient_has_none(self, shop: Any, capsys: Capsys) -> None:
        assert "--evidence: an ingredient has none; name a recipe" in run(capsys, "show", "glycerin", "--evidence").err

    def test_hostile_words_do_no_harm(self, shop: Any, capsys: Capsys) -> None:
        evil = "ST\\u001b[31m<img src=x>|::error::"
        shop.commit("evidence", evidence(proof(*pin(shop), report=evil)))
        shop.write(glycerin("12.00"))

        for words in (("show", "polish", "--evidence"), ("review",)):
            assert "\x1b" not in run(capsys, *words).out
            page = run(capsys, *words, "--format", "markdown").out
            assert "\x1b" not in page
            assert "<img" not in page


class TestTheRecordUnderReview:
    """A change does not decide which evidence it is judged by."""

    @pytest.fixture
    def proved(self, shop: Any) -> tuple[str, str]:
        found = pin(shop)
        shop.commit("Record", evidence(proof(*found), proof(*found, "challenge-test", "CT-1")))
        shop.git("branch", "base")
        return found

    def duties(self, capsys: Capsys) -> dict[str, Any]:
        review = json.loads(run(capsys, "review", "base..HEAD", "--format", "json").out)["recipes"][0]
        return {duty["evidence"]: duty for duty in review["duties"]}

    def test_evidence_that_the_change_takes_away_still_asks_for_its_duties(
        self, shop: Any, capsys: Capsys, proved: tuple[str, str]
    ) -> None:
        shop.commit("Thicken", glycerin("12.00"))
        before = self.duties(capsys)
        (shop.path / "evidence" / "polish.toml").unlink()
        shop.commit("Tidy up", {})
        after = self.duties(capsys)

        assert {"stability ST-1", "challenge test CT-1"} == set(before) == set(after)
        assert "this change takes it out of the record" in json.dumps(after["stability ST-1"])

    def test_one_proof_alone(self, shop: Any, capsys: Capsys, proved: tuple[str, str]) -> None:
        shop.commit("Thicken", glycerin("12.00") | evidence(proof(*proved)))

        assert {"stability ST-1", "challenge test CT-1"} == set(self.duties(capsys))

    def test_a_pin_that_the_change_moves_to_itself(self, shop: Any, capsys: Capsys, proved: tuple[str, str]) -> None:
        shop.commit("Thicken", glycerin("12.00"))
        moved = pin(shop)
        shop.commit("Pin", evidence(proof(*moved), proof(*proved, "challenge-test", "CT-1")))
        found = self.duties(capsys)

        assert {"stability ST-1", "challenge test CT-1"} == set(found)
        assert "this change pins it to another version" in json.dumps(found["stability ST-1"])

    def test_a_new_proof_of_the_new_version_is_one(self, shop: Any, capsys: Capsys, proved: tuple[str, str]) -> None:
        shop.commit("Thicken", glycerin("12.00"))
        new = proof(*pin(shop), report="ST-2")
        shop.commit("Test", evidence(proof(*proved), proof(*proved, "challenge-test", "CT-1"), new))

        assert {"challenge test CT-1"} == set(self.duties(capsys))

    def test_a_proof_that_still_holds_may_not_go_in_silence(
        self, shop: Any, capsys: Capsys, proved: tuple[str, str]
    ) -> None:
        texts = glycerin("14.01") | evidence(proof(*proved, more="until = 2099-05-02\n"))
        shop.commit("Retouch", texts)
        found = self.duties(capsys)

        assert "this change takes it out of the record" in json.dumps(found["challenge test CT-1"])
        assert "this change lets it end on 2099-05-02 in place of never" in json.dumps(found["stability ST-1"])
