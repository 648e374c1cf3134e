"""Approving with real keys: what counts, what does not, and what survives."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from formula_vcs.approvals import asking, signing
from formula_vcs.approvals.payload import payload
from formula_vcs.git import repository, ssh_keys
from formula_vcs.workspace.snapshot import Committed, Snapshot
from tests.approvals import security_key
from tests.approvals.helpers_approvals import ASKING, PEOPLE, House, house
from tests.conftest import MINIMAL, GitRepo

Make = Callable[..., GitRepo]
Capsys = pytest.CaptureFixture[str]
YES, NO, NOBODY = "approved", "not approved", "not known"
LESS = MINIMAL["cream.toml"].replace("5.00", "4.00")


@pytest.fixture
def shed(git_repo: Make, tmp_path: Path) -> House:
    return house(git_repo(), tmp_path / "keys")


def test_two_roles_approve_and_the_version_is_approved(shed: House, capsys: Capsys) -> None:
    assert {"RD": NO, "QA": NO} == shed.states()
    shed.approved("quentin", "QA")
    shown = capsys.readouterr().out
    assert {"RD": NO, "QA": YES} == shed.states()
    shed.approved("rhea", "RD", "--condition", "fill at 30 degC")

    found = shed.standing()
    assert found.approved
    assert "approved by Rhea" in shed.words("RD")
    assert "on condition: fill at 30 degC" in shed.words("RD")
    assert "new recipe, 2 charges" in shown
    assert "QA: nobody has approved it" in shown


def test_the_payload_says_what_was_signed_and_nothing_else(shed: House) -> None:
    shed.approve("quentin", "QA")
    (file,) = shed.files()
    text = file.read_text("utf-8")

    assert file.with_name(f"{file.name}.sig").is_file()
    assert re.fullmatch(r"[0-9a-f]{12}-qa-[0-9a-f]{12}\.toml", file.name)
    keys = re.findall(r"^(\w+) = ", text, re.MULTILINE)
    assert keys == [
        "approval", "repository", "workspace", "recipe", "content", "role", "decision", "signed",
        "materials", "equipment", "packaging", "house", "law", "accepted",
    ]  # fmt: skip
    assert f'repository = "{shed.repo.git("rev-list", "--max-parents=0", "HEAD")}"' in text


def test_a_change_of_the_recipe_voids_it_and_layout_does_not(shed: House) -> None:
    shed.approved("quentin", "QA")
    shed.commit({"cream.toml": "# a comment\n" + MINIMAL["cream.toml"]})
    assert YES == shed.states()["QA"]

    shed.commit({"cream.toml": LESS})

    assert NO == shed.states()["QA"]
    assert "Quentin approved an earlier version" in shed.words("QA")
    shed.commit({"cream.toml": MINIMAL["cream.toml"]})
    assert YES == shed.states()["QA"]


@pytest.mark.parametrize(
    ("path", "old", "new", "what"),
    [
        ("ingredients/glycerin.toml", '"Glycerin" = 100', '"Glycerin" = 99', "materials and premixes"),
        ("ingredients/glycerin.toml", "[origin]", '[handling]\ntemp_at_most = "60 degC"\n[origin]', "materials"),
        ("workspace.toml", 'currency = "EUR"', 'currency = "EUR"\nmarkets = ["EU"]', "house, law in force"),
        ("workspace.toml", 'currency = "EUR"', 'currency = "EUR"\ntolerance = "2 %"', "defaults of the house"),
        (
            "cream.toml",
            "[phase",
            '[[accept]]\nrule = "preserved"\nabout = "x"\nwhy = "y"\n\n[phase',
            "accepted findings",
        ),
    ],
)
def test_what_it_rests_on_voids_it_too(shed: House, path: str, old: str, new: str, what: str) -> None:
    shed.approved("quentin", "QA")
    text = (shed.repo.path / path).read_text("utf-8")
    shed.commit({path: text.replace(old, new)})

    assert NO == shed.states()["QA"]
    assert what in shed.words("QA")


def test_a_price_a_title_and_a_note_do_not(shed: House) -> None:
    shed.approved("quentin", "QA")
    text = MINIMAL["ingredients/glycerin.toml"].replace("2.00 EUR", "3.00 EUR").replace('"Glycerin"\nd', '"Gly"\nd')
    shed.commit({"ingredients/glycerin.toml": text + '\n[handling]\nnote = "x"\n'})

    assert YES == shed.states()["QA"]


def test_a_withdrawal_counts_and_is_answered_only_by_one_that_names_it(shed: House, capsys: Capsys) -> None:
    shed.approved("quentin", "QA")
    old = {path: path.read_bytes() for path in (shed.repo.path / "approvals").rglob("*cream*/*")}
    shed.approved("zoe", "QA", "--withdraw", "viscosity drifts")
    assert NO == shed.states()["QA"]
    assert "withdrawn by Zoe: viscosity drifts" in shed.words("QA")

    # the old approval again, and again after the withdrawal was deleted
    for path in shed.files():
        if path not in old:
            path.unlink()
    shed.commit()
    assert NO == shed.states()["QA"]
    for path, content in old.items():
        path.write_bytes(content)
    shed.commit()
    assert NO == shed.states()["QA"]

    shed.approved("quentin", "QA")
    assert YES == shed.states()["QA"]
    assert "after" in shed.files()[-1].read_text("utf-8") or any("after" in p.read_text("utf-8") for p in shed.files())


def test_an_approval_that_waited_on_a_branch_does_not_outlive_the_withdrawal(shed: House) -> None:
    shed.repo.git("checkout", "-q", "-b", "waits")
    shed.approved("zoe", "QA")
    shed.repo.git("checkout", "-q", "main")
    shed.approved("quentin", "QA")
    shed.approved("quentin", "QA", "--withdraw", "wrong gum")
    shed.repo.git("merge", "-q", "--no-edit", "waits")

    assert NO == shed.states()["QA"]


def test_withdrawing_what_was_never_approved_is_refused(shed: House, capsys: Capsys) -> None:
    assert 2 == shed.approve("quentin", "QA", "--withdraw", "why not")
    assert "QA has approved no version of 'cream'" in capsys.readouterr().err


def test_a_withdrawal_without_a_version_here_takes_the_last_one_back(shed: House) -> None:
    shed.approved("quentin", "QA")
    shed.commit({"cream.toml": LESS})
    shed.approved("quentin", "QA", "--withdraw", "wrong gum")
    shed.commit({"cream.toml": MINIMAL["cream.toml"]})

    assert "withdrawn by Quentin: wrong gum" in shed.words("QA")


# Whose change it is


def test_nobody_approves_her_own_change_and_others_do(shed: House, capsys: Capsys) -> None:
    shed.commit({"cream.toml": LESS}, by="quentin")
    assert 2 == shed.approve("quentin", "QA")
    assert "Quentin made this change" in capsys.readouterr().err
    shed.approved("zoe", "QA")
    assert YES == shed.states()["QA"]

    # what was approved stays made: the next change is somebody else's, and Quentin may approve that
    shed.commit({"cream.toml": MINIMAL["cream.toml"].replace("5.00", "3.00")})
    shed.approved("quentin", "QA")
    assert YES == shed.states()["QA"]


def test_a_co_author_and_the_key_of_a_signed_commit_made_it_too(shed: House, capsys: Capsys) -> None:
    shed.commit({"cream.toml": LESS}, message="less\n\nCo-authored-by: Q <QUENTIN@example.org>")
    assert 2 == shed.approve("quentin", "QA")

    shed.repo.write({"cream.toml": MINIMAL["cream.toml"].replace("5.00", "3.50")})
    shed.repo.git("config", "user.signingkey", str(shed.key("zoe")))
    shed.repo.git("-c", "gpg.format=ssh", "commit", "-qaS", "-m", "less", "--author=x <x@example.org>")
    assert 2 == shed.approve("zoe", "QA")
    assert "Zoe made this change" in capsys.readouterr().err


def test_a_mailmap_of_the_branch_hides_nobody(shed: House) -> None:
    shed.commit({"cream.toml": LESS, ".mailmap": "Other <other@example.org> <quentin@example.org>\n"}, by="quentin")

    assert 2 == shed.approve("quentin", "QA")


def test_a_change_below_the_recipe_is_a_change_too(shed: House) -> None:
    shed.approved("zoe", "QA")
    text = MINIMAL["ingredients/glycerin.toml"] + '\n[handling]\ntemp_at_most = "80 degC"\n'
    shed.commit({"ingredients/glycerin.toml": text}, by="quentin")

    assert 2 == shed.approve("quentin", "QA")
    shed.approved("zoe", "QA")
    assert YES == shed.states()["QA"]


def test_one_person_counts_for_one_role(shed: House) -> None:
    shed.approved("zoe", "QA")
    shed.approved("zoe", "RD")
    assert [YES, NO] == sorted(shed.states().values())
    shed.approved("quentin", "QA")

    assert {"RD": YES, "QA": YES} == shed.states()


# Rebase, squash, clone, shallow


def _on_a_branch(shed: House) -> None:
    shed.repo.git("checkout", "-q", "-b", "proposal")
    shed.commit({"cream.toml": LESS})
    shed.approved("quentin", "QA")
    shed.approved("rhea", "RD")


def test_it_survives_a_squash(shed: House) -> None:
    _on_a_branch(shed)
    assert {"RD": YES, "QA": YES} == shed.states()
    assert "not on main yet" in shed.words("QA")
    shed.repo.git("checkout", "-q", "main")
    shed.repo.git("merge", "-q", "--squash", "proposal")
    shed.commit(message="less glycerin (#12)")

    assert {"RD": YES, "QA": YES} == shed.states()


def test_it_survives_a_rebase_and_a_merge(shed: House) -> None:
    _on_a_branch(shed)
    shed.repo.git("checkout", "-q", "main")
    shed.commit({"other.txt": "x"})
    shed.repo.git("checkout", "-q", "proposal")
    shed.repo.git("rebase", "-q", "main")
    assert {"RD": YES, "QA": YES} == shed.states()
    shed.repo.git("checkout", "-q", "main")
    shed.repo.git("merge", "-q", "--no-ff", "--no-edit", "proposal")

    assert {"RD": YES, "QA": YES} == shed.states()


def test_a_clone_knows_it_and_a_shallow_one_says_that_it_does_not(shed: House, tmp_path: Path) -> None:
    shed.approved("quentin", "QA")
    shed.approved("rhea", "RD")
    url = f"file://{shed.repo.path}"
    subprocess.run(["git", "clone", "-q", url, str(tmp_path / "all")], check=True)
    subprocess.run(["git", "clone", "-q", "--depth=1", url, str(tmp_path / "one")], check=True)
    repo = shed.repo.path
    shed.repo.path = tmp_path / "all"
    assert {"RD": YES, "QA": YES} == shed.states()
    shed.repo.path = tmp_path / "one"

    assert {"RD": NOBODY, "QA": NOBODY} == shed.states()
    assert "shallow" in shed.words("QA")
    assert not shed.standing().approved
    shed.repo.path = repo


def test_a_workspace_that_moved_keeps_its_approvals(shed: House) -> None:
    shed.approved("quentin", "QA")
    (shed.repo.path / "brand").mkdir()
    for name in ("workspace.toml", "cream.toml", "ingredients", "approvals"):
        shed.repo.git("mv", name, f"brand/{name}")
    shed.commit(message="move")
    repo = repository.open_repo(shed.repo.path)
    tip = repository.resolve(repo, "HEAD")
    with Snapshot(Committed(repo, tip, "brand", "HEAD")) as snapshot:
        recipe = snapshot.recipe("cream")
        assert recipe is not None
        found = asking.standing_of(repo, "brand", tip, snapshot.formula(recipe))

    assert {"RD": NO, "QA": YES} == {role.role: role.state for role in found.roles}


# Attacks


def test_a_forged_trust_file_on_the_branch_counts_for_nothing(shed: House, capsys: Capsys) -> None:
    shed.repo.git("checkout", "-q", "-b", "evil")
    shed.commit({"approvals/trust.toml": shed.trust({"mallory": ("QA", "RD", "trust")})})
    assert 2 == shed.approve("mallory", "QA")
    assert "is nobody's in approvals/trust.toml of the base" in capsys.readouterr().err
    _forge(shed, "mallory", "QA")
    assert {"RD": NO, "QA": NO} == shed.states()
    shed.repo.git("checkout", "-q", "main")
    shed.repo.git("merge", "-q", "--no-ff", "--no-edit", "evil")

    assert {"RD": NO, "QA": NO} == shed.states()
    assert "without the 2 signatures" in " ".join(shed.standing().notes)
    shed.commit({"cream.toml": LESS})
    _forge(shed, "mallory", "QA")
    assert NO == shed.states()["QA"]
    # and who could sign before still can
    shed.approved("quentin", "QA")
    assert YES == shed.states()["QA"]


def _forge(shed: House, who: str, as_role: str, **other: str) -> None:
    """Sign what nobody of ours would sign, and commit it."""
    with shed.asked() as (found, snapshot):
        recipe = snapshot.recipe("cream")
        assert recipe is not None
        said = signing.approval(found, snapshot.formula(recipe), as_role, "") | other
    data = payload(said)
    folder = shed.repo.path / "approvals" / "cream"
    folder.mkdir(parents=True, exist_ok=True)
    name = folder / f"forged-{len(list(folder.iterdir()))}.toml"
    name.write_bytes(data)
    name.with_name(f"{name.name}.sig").write_bytes(ssh_keys.sign(data, str(shed.key(who))))
    shed.commit(by=who)


def test_what_is_forged_as_such_counts_where_the_signer_may(shed: House) -> None:
    _forge(shed, "quentin", "QA")

    assert YES == shed.states()["QA"]


@pytest.mark.parametrize(
    ("other", "why"),
    [
        ({"recipe": "body-cream"}, "nobody has approved it"),
        ({"repository": "0" * 40}, "another repository"),
        ({"workspace": "brand-b"}, "another workspace, 'brand-b'"),
        ({"content": "0" * 64}, "nobody has approved it"),
        ({"role": "RD"}, "nobody has approved it"),
        ({"role": "trust"}, "nobody has approved it"),
    ],
)
def test_a_signature_for_something_else_is_none_for_this(shed: House, other: dict[str, str], why: str) -> None:
    _forge(shed, "quentin", "QA", **other)

    assert NO == shed.states()["QA"]
    assert why in shed.words("QA")


def test_a_role_that_somebody_has_not_is_not_hers(shed: House, capsys: Capsys) -> None:
    assert 2 == shed.approve("mako", "QA")
    assert "Mako may not sign as QA; only as RD" in capsys.readouterr().err
    _forge(shed, "mako", "QA")

    assert "Mako may not sign as QA" in shed.words("QA")


def test_a_key_that_is_nobodys_is_refused(shed: House) -> None:
    _forge(shed, "mallory", "QA")

    assert "is nobody's in the trust file" in shed.words("QA")


def test_another_namespace_is_another_purpose(shed: House) -> None:
    shed.approve("quentin", "QA")
    (file,) = shed.files()
    sig = file.with_name(f"{file.name}.sig")
    sig.unlink()
    subprocess.run(["ssh-keygen", "-q", "-Y", "sign", "-n", "git", "-f", shed.key("quentin"), file], check=True)
    shed.commit()

    assert "was made for something else ('git')" in shed.words("QA")


@pytest.mark.parametrize(
    "change",
    [
        lambda data: data.replace(b"\n", b"\r\n"),
        lambda data: data + b"\n",
        lambda data: data.replace(b'role = "QA"', b'role =  "QA"'),
        lambda data: data.replace(b"approve", b"approve", 1) + b"# seen\n",
    ],
)
def test_one_changed_byte_and_it_does_not_hold(shed: House, change: Callable[[bytes], bytes]) -> None:
    shed.approve("quentin", "QA")
    (file,) = shed.files()
    file.write_bytes(change(file.read_bytes()))
    shed.commit()

    assert NO == shed.states()["QA"]
    assert "does not fit: changed after it was signed, or forged" in shed.words("QA")


def test_the_name_of_the_file_says_nothing(shed: House) -> None:
    shed.approve("quentin", "QA")
    (file,) = shed.files()
    other = file.parent.parent / "somebody"
    other.mkdir()
    sig = file.with_name(f"{file.name}.sig")
    file.rename(other / "x.toml")
    sig.rename(other / "x.toml.sig")
    shed.commit()

    assert YES == shed.states()["QA"]


def test_links_and_huge_files_are_no_approvals(shed: House, capsys: Capsys) -> None:
    shed.approve("quentin", "QA")
    (file,) = shed.files()
    sig = file.with_name(f"{file.name}.sig")
    away = shed.repo.path / "away"
    away.mkdir()
    for one in (file, sig):
        one.rename(away / one.name)
        one.symlink_to(f"../../away/{one.name}")
    shed.commit()
    assert NO == shed.states()["QA"]

    for one in (file, sig):
        one.unlink()
        (away / one.name).rename(one)
    sig.write_bytes(sig.read_bytes() + b"\n" * 70_000)
    shed.commit()
    assert NO == shed.states()["QA"]

    file.write_bytes(file.read_bytes() + b"# x\n" * 30_000)
    shed.commit()
    assert (
        "larger than any approval" in " ".join(d.fault for d in shed.standing().decisions) or NO == shed.states()["QA"]
    )

    shutil.rmtree(shed.repo.path / "approvals" / "cream")
    (shed.repo.path / "approvals" / "cream").symlink_to("../away")
    assert 2 == shed.approve("quentin", "QA")
    assert "is a link" in capsys.readouterr().err


def test_a_deleted_approval_counts_no_more(shed: House) -> None:
    shed.approved("quentin", "QA")
    shutil.rmtree(shed.repo.path / "approvals" / "cream")
    shed.commit()

    assert NO == shed.states()["QA"]
    assert "its file is not there any more" in shed.words("QA")


# Trust: its change, its loss, keys that go


def test_a_change_of_trust_counts_when_the_old_trust_has_signed_it(shed: House, capsys: Capsys) -> None:
    shed.repo.git("checkout", "-q", "-b", "more-people")
    shed.commit({"approvals/trust.toml": shed.trust({**PEOPLE, "nia": ("QA",)})})
    for who in ("quentin", "rhea"):
        shed.repo.git("config", "user.signingkey", str(shed.key(who)))
        assert 0 == shed.run("approve", "--trust", "--yes")
        shed.commit(by=who)
    assert "2 of 2 signatures" in capsys.readouterr().err
    shed.repo.git("checkout", "-q", "main")
    shed.repo.git("merge", "-q", "--squash", "more-people")
    shed.commit()
    shed.approved("nia", "QA")

    assert YES == shed.states()["QA"]
    assert () == shed.standing().notes


def test_one_signature_of_two_is_not_enough_and_the_second_may_come_later(shed: House) -> None:
    shed.commit({"approvals/trust.toml": shed.trust({**PEOPLE, "nia": ("QA",)})})
    shed.repo.git("config", "user.signingkey", str(shed.key("quentin")))
    assert 0 == shed.run("approve", "--trust", "--yes")
    shed.commit(by="quentin")
    assert 2 == shed.approve("nia", "QA")
    shed.repo.git("config", "user.signingkey", str(shed.key("rhea")))
    assert 0 == shed.run("approve", "--trust", "--yes")
    shed.commit(by="rhea")
    shed.approved("nia", "QA")

    assert YES == shed.states()["QA"]


def test_the_same_person_signs_a_change_once(shed: House) -> None:
    shed.commit({"approvals/trust.toml": shed.trust({**PEOPLE, "nia": ("QA",)})})
    shed.repo.git("config", "user.signingkey", str(shed.key("quentin")))
    for _ in range(2):
        shed.run("approve", "--trust", "--yes")
        shed.commit(by="quentin")

    assert 2 == shed.approve("nia", "QA")


@pytest.mark.parametrize("how", ["deleted", "renamed", "a link", "cut short", "rows"])
def test_without_its_trust_a_house_still_asks_and_believes_the_old_one(shed: House, how: str) -> None:
    shed.approved("rhea", "RD")
    trust = shed.repo.path / "approvals" / "trust.toml"
    if how == "deleted":
        trust.unlink()
    elif how == "renamed":
        trust.rename(trust.with_name("trust-old.toml"))
    elif how == "a link":
        trust.rename(shed.repo.path / "elsewhere.toml")
        trust.symlink_to("../elsewhere.toml")
    elif how == "cut short":
        trust.write_text("[person")
    else:
        (shed.repo.path / "workspace.toml").write_text(MINIMAL["workspace.toml"])
    shed.commit()

    assert {"RD": YES, "QA": NO} == shed.states()
    assert "without the 2 signatures" in " ".join(shed.standing().notes)
    shed.approved("quentin", "QA")
    assert {"RD": YES, "QA": YES} == shed.states()


def test_a_revoked_key_made_nothing_that_counts(shed: House, capsys: Capsys) -> None:
    shed.approved("zoe", "QA")
    assert YES == shed.states()["QA"]
    stolen = shed.public("zoe")
    people = {name: roles for name, roles in PEOPLE.items() if name != "zoe"}
    more = f'[[revoked]]\nkey = "{stolen}"\nwhy = "laptop stolen in the train"\n'
    shed.commit({"approvals/trust.toml": shed.trust(people, more)})
    for who in ("quentin", "rhea"):
        shed.repo.git("config", "user.signingkey", str(shed.key(who)))
        assert 0 == shed.run("approve", "--trust", "--yes")
        shed.commit(by=who)

    assert NO == shed.states()["QA"]
    assert "is revoked: laptop stolen in the train" in shed.words("QA")
    assert 2 == shed.approve("zoe", "QA")
    assert "your key is revoked" in capsys.readouterr().err


def test_who_leaves_has_approved_what_she_approved(shed: House) -> None:
    shed.approved("zoe", "QA")
    people = {name: roles for name, roles in PEOPLE.items() if name != "zoe"}
    shed.commit({"approvals/trust.toml": shed.trust(people)})
    for who in ("quentin", "rhea"):
        shed.repo.git("config", "user.signingkey", str(shed.key(who)))
        assert 0 == shed.run("approve", "--trust", "--yes")
        shed.commit(by=who)
    assert YES == shed.states()["QA"]
    shed.commit({"cream.toml": LESS})
    _forge(shed, "zoe", "QA")

    assert NO == shed.states()["QA"]


def test_one_key_is_one_persons(git_repo: Make, tmp_path: Path, capsys: Capsys) -> None:
    shed = House(git_repo(), tmp_path / "keys")
    shed.commit({**MINIMAL, "workspace.toml": ASKING})
    twice = shed.trust().replace(shed.public("mako"), shed.public("quentin"))
    shed.commit({"approvals/trust.toml": twice})

    assert 2 == shed.approve("quentin", "QA")
    assert "has no approvals/trust.toml that can be used" in capsys.readouterr().err


def test_the_first_trust_of_a_branch_is_none_before_it_is_merged(git_repo: Make, tmp_path: Path) -> None:
    shed = House(git_repo(), tmp_path / "keys")
    shed.commit({**MINIMAL, "workspace.toml": ASKING})
    shed.repo.git("checkout", "-q", "-b", "trust")
    shed.commit({"approvals/trust.toml": shed.trust()})
    assert 2 == shed.approve("quentin", "QA")
    _forge(shed, "quentin", "QA")
    assert NO == shed.states()["QA"]
    shed.repo.git("checkout", "-q", "main")
    shed.repo.git("merge", "-q", "--squash", "trust")
    shed.commit()

    assert NO == shed.states()["QA"]  # it came with the trust that it wants to be judged by
    shed.approved("quentin", "QA")
    assert YES == shed.states()["QA"]


# The program


def test_an_ssh_keygen_that_cannot_sign_is_said_in_one_line(
    shed: House, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys
) -> None:
    shed.approved("quentin", "QA")
    capsys.readouterr()
    tools = tmp_path / "tools"
    tools.mkdir()
    old = tools / "ssh-keygen"
    old.write_text("#!/bin/sh\necho 'unknown option -- Y' >&2\nexit 1\n")
    old.chmod(0o755)
    shed.key("rhea")
    monkeypatch.setenv("PATH", f"{tools}:/usr/bin:/bin")

    assert 2 == shed.approve("rhea", "RD")
    assert 1 == len([line for line in capsys.readouterr().err.splitlines() if "too old" in line])
    assert {"RD": NOBODY, "QA": NOBODY} == shed.states()
    assert "too old" in shed.words("QA")


def test_a_literal_key_is_signed_with_by_the_agent(
    shed: House, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    agent = subprocess.run(["ssh-agent", "-s"], capture_output=True, text=True, check=True).stdout
    told = dict(re.findall(r"(SSH_\w+)=([^;]+);", agent))
    for name, value in told.items():
        monkeypatch.setenv(name, value)
    try:
        subprocess.run(["ssh-add", "-q", str(shed.key("quentin"))], check=True)
        shed.repo.git("config", "user.signingkey", f"key::{shed.public('quentin')}")
        assert 0 == shed.run("approve", "cream", "--role", "QA", "--yes")
        shed.commit()
        assert YES == shed.states()["QA"]
        shed.repo.git("config", "--unset", "user.signingkey")
        assert 0 == shed.run("approve", "cream", "--role", "QA", "--yes", "--condition", "once more")
    finally:
        subprocess.run(["ssh-agent", "-k"], check=True, capture_output=True)


def test_a_security_key_approves(git_repo: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The key is one in software; that its signature fits is said by ssh-keygen, as for any other."""
    program, configuration = tmp_path / "plugged-in", tmp_path / "gitconfig"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" "{security_key.__file__}" "$@"\n', "utf-8")
    program.chmod(0o755)
    key = security_key.public()
    configuration.write_text(f'[gpg "ssh"]\nprogram = {program}\n[user]\nsigningkey = key::{key}\n', "utf-8")
    monkeypatch.setenv("GIT_CONFIG_GLOBAL", str(configuration))
    made = House(git_repo(), tmp_path / "keys")
    made.commit({**MINIMAL, "workspace.toml": ASKING}, message="begin")
    made.commit({"approvals/trust.toml": made.trust().replace(made.public("quentin"), f"{key} in a drawer")})

    assert 0 == made.run("approve", "cream", "--role", "QA", "--yes")
    made.commit()
    assert YES == made.states()["QA"]

    (payload_file,) = made.files()
    signature = payload_file.with_name(f"{payload_file.name}.sig")
    assert not ssh_keys.verify(payload_file.read_bytes() + b"# more\n", signature.read_bytes(), key)
    signature.write_bytes(security_key.signed(payload_file.read_bytes(), b"git"))
    made.commit()
    assert NO == made.states()["QA"]


def test_what_is_not_committed_is_not_approved(shed: House, capsys: Capsys) -> None:
    shed.repo.write({"cream.toml": LESS})

    assert 2 == shed.approve("quentin", "QA")
    assert "is not what HEAD has: commit it first, or approve cream@HEAD" in capsys.readouterr().err
    assert [] == shed.files()


def test_nobody_is_asked_without_a_terminal(shed: House, capsys: Capsys) -> None:
    shed.repo.git("config", "user.signingkey", str(shed.key("quentin")))

    assert 2 == shed.run("approve", "cream", "--role", "QA")
    assert "sign with --yes" in capsys.readouterr().err
    assert [] == shed.files()


def test_what_blocks_is_not_approved(shed: House, capsys: Capsys) -> None:
    shed.commit({"cream.toml": MINIMAL["cream.toml"].replace("5.00", "500.00")})

    assert 1 == shed.approve("quentin", "QA")
    assert "nothing is signed: 'cream' does not pass" in capsys.readouterr().err


@pytest.mark.parametrize("kind", ["ecdsa", "rsa"])
def test_other_kinds_of_keys_sign_as_well(shed: House, kind: str) -> None:
    path = shed.keys / "old"
    shed.keys.mkdir(exist_ok=True)
    subprocess.run(["ssh-keygen", "-q", "-t", kind, "-N", "", "-f", str(path)], check=True)
    shed.commit({"approvals/trust.toml": shed.trust({**PEOPLE, "old": ("QA",)})})
    for who in ("quentin", "rhea"):
        shed.repo.git("config", "user.signingkey", str(shed.key(who)))
        assert 0 == shed.run("approve", "--trust", "--yes")
        shed.commit(by=who)
    shed.approved("old", "QA")

    assert YES == shed.states()["QA"]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda house: house.trust().replace(house.public("mako"), house.public("zoe")), "have one key"),
        (lambda house: house.trust().replace("mako@", "ZOE@"), "have one address"),
        (lambda house: house.trust().replace('"mako@example.org"', ""), "'mako' has no address"),
        (lambda house: house.trust({"quentin": ("QA",)}), "nobody has the role 'trust'"),
        (lambda house: house.trust().replace("ssh-ed25519 AAAA", "ssh-ed25519 BBBB"), "is no public key of a kind"),
        (lambda house: house.trust().replace("emails", "mails"), "unknown key 'mails'"),
        (lambda house: house.trust(more="changes = 0\n"), "1 to 9"),
    ],
)
def test_a_trust_file_that_cannot_be_used_is_a_finding(
    shed: House, capsys: Capsys, change: Callable[[House], str], said: str
) -> None:
    shed.repo.write({"approvals/trust.toml": change(shed)})
    capsys.readouterr()

    assert 1 == shed.run("check")
    out = capsys.readouterr().out
    assert "approvals/trust.toml:" in out
    assert said in " ".join(out.split())


def test_a_branch_or_a_tag_that_is_called_like_the_base_is_not_the_base(shed: House, tmp_path: Path) -> None:
    shed.repo.git("checkout", "-q", "-b", "evil")
    evil = shed.commit({"approvals/trust.toml": shed.trust({"mallory": ("QA", "RD", "trust")})})
    _forge(shed, "mallory", "QA")
    shed.repo.git("tag", "main", evil)
    assert NO == shed.states()["QA"]
    shed.repo.git("tag", "--delete", "main")
    subprocess.run(["git", "clone", "-q", f"file://{shed.repo.path}", str(tmp_path / "clone")], check=True)
    shed.repo.path = tmp_path / "clone"
    shed.repo.git("remote", "set-head", "origin", "main")
    shed.repo.git("branch", "origin/main", "origin/evil")
    shed.repo.git("checkout", "-q", "origin/evil")

    assert NO == shed.states()["QA"]
