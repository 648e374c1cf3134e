"""The CI files of hooks/: valid by their schemas, and run for real, also against a fork that means ill."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests import helpers_hosts
from tests.commands.bench_repo import HOSTILE_TOML, SHOP, SWAPPED
from tests.conftest import MINIMAL
from tests.helpers_ci import HOOKS, Api, ci_file, program, ran, served

Make = Callable[..., Any]
GITHUB = ("github-recipes.yml", "github-recipes-comment.yml")
GITLAB = "gitlab-recipes.yml"
MARKER = "<!-- git-formula:review -->"
# git takes such a name for a branch; a shell that is handed it unquoted would run it
EVIL = "a$(touch${IFS}pwned);b`touch${IFS}pwned`"


def blocks() -> Iterator[tuple[str, str, str]]:
    """Give every block of every job: where it stands, its shell, its text."""
    for name in GITHUB:
        for job, what in ci_file(name)["jobs"].items():
            for step in what["steps"]:
                if "run" in step:
                    yield f"{name}/{job}/{step['name']}", step["shell"], step["run"]
    for job, what in ci_file(GITLAB).items():
        if "script" in what:
            yield f"{GITLAB}/{job}", "sh", "\n".join(what["script"])


BLOCKS = {name: (shell, text) for name, shell, text in blocks()}


@pytest.mark.parametrize(
    ("schema", "name"), [("github-workflows", GITHUB[0]), ("github-workflows", GITHUB[1]), ("gitlab-ci", GITLAB)]
)
def test_each_is_valid_by_its_published_schema(schema: str, name: str) -> None:
    words = [sys.executable, "-m", "check_jsonschema", "--builtin-schema", f"vendor.{schema}", str(HOOKS / name)]

    done = subprocess.run(words, capture_output=True, text=True, check=False)

    assert 0 == done.returncode, done.stdout + done.stderr


@pytest.mark.parametrize("name", BLOCKS)
def test_no_word_of_an_event_is_pasted_into_a_program(name: str) -> None:
    assert "${{" not in BLOCKS[name][1]


@pytest.mark.parametrize("name", [name for name, (shell, _) in BLOCKS.items() if shell != "python"])
def test_shell_is_clean(name: str, tmp_path: Path) -> None:
    shell, text = BLOCKS[name]
    checker = shutil.which("shellcheck", path=f"{Path(sys.executable).parent}:{os.environ['PATH']}")
    assert checker is not None
    (tmp_path / "block").write_text(f"set -e\n{text}", "utf-8")  # as the runner calls it

    done = subprocess.run([checker, "-s", shell, tmp_path / "block"], capture_output=True, text=True, check=False)

    assert "" == done.stdout


def test_what_a_fork_runs_may_only_read() -> None:
    workflow = ci_file(GITHUB[0])

    assert {"contents": "read"} == workflow["permissions"]
    assert ["pull_request"] == list(workflow[True])
    assert not any("permissions" in job for job in workflow["jobs"].values())
    assert "secrets." not in (HOOKS / GITHUB[0]).read_text("utf-8")


def test_what_may_write_runs_nothing_of_a_fork() -> None:
    workflow = ci_file(GITHUB[1])
    jobs = workflow["jobs"]

    assert {} == workflow["permissions"]
    assert ["pull_request_target"] == list(workflow[True])
    assert [{"contents": "read"}, {"pull-requests": "write", "statuses": "write"}] == [
        job["permissions"] for job in jobs.values()
    ]
    used = [step["uses"].partition("@")[0] for job in jobs.values() for step in job["steps"] if "uses" in step]
    assert ["actions/setup-python", "actions/upload-artifact", "actions/download-artifact"] == used
    # whatever is taken of the event is made by the host, not by a person
    text = (HOOKS / GITHUB[1]).read_text("utf-8")
    assert {f"pull_request.{name}" for name in ("number", "head.sha", "base.sha")} == set(
        re.findall(r"github\.event\.([\w.]+)", text)
    )


def test_where_packages_are_installed_no_token_is_in_the_environment() -> None:
    for name in GITHUB:
        for job in ci_file(name)["jobs"].values():
            installing = [step for step in job["steps"] if "pip install" in step.get("run", "")]
            assert all("env" not in step for step in installing)
            assert not installing or "write" not in job.get("permissions", {}).values()
    for name, job in ci_file(GITLAB).items():
        script = "\n".join(job.get("script", ())) if isinstance(job, dict) else ""
        if "pip install" in script and name != "recipes":
            assert "environment" not in job, "the token's scope is that environment"
            assert "FORMULA_COMMENT_TOKEN" not in script
            assert "env -u CI_JOB_TOKEN" in job["script"][0]
        assert ("FORMULA_COMMENT_TOKEN" in script) == ("environment" in job if isinstance(job, dict) else False)


@pytest.fixture
def proposal(git_repo: Make) -> Any:
    """Give a repository where main went on, and an evil branch that was merged as a host merges it."""
    repo = git_repo({f"lab/{path}": text for path, text in SHOP.items()})
    repo.git("switch", "--quiet", "--create", EVIL)
    evil = SWAPPED.replace('"Reef face polish"', f'"{HOSTILE_TOML}"')
    repo.commit("$(touch pwned) ::error::x", {"lab/polish.toml": evil, ".gitattributes": "* merge=evil\n"})
    repo.git("switch", "--quiet", "main")
    repo.commit("More", {"lab/toner.toml": SHOP["toner.toml"].replace("= 1.00", "= 2.00")})
    repo.git("switch", "--quiet", "--detach")
    repo.git("merge", "--quiet", "--no-ff", "--message=merge", EVIL)
    repo.git("update-ref", "refs/pull/7/merge", "HEAD")
    repo.git("update-ref", "refs/merge-requests/7/head", EVIL)
    return repo


@pytest.fixture
def env(tmp_path: Path) -> dict[str, str]:
    """Give the variables of a runner."""
    temp = tmp_path / "runner"
    temp.mkdir()
    names = ("HOME", "LC_ALL", "GIT_CONFIG_GLOBAL", "GIT_CONFIG_NOSYSTEM")
    return {
        **{name: os.environ[name] for name in names if name in os.environ},
        "PATH": program(tmp_path / "bin"),
        "RUNNER_TEMP": str(temp),
        "GITHUB_OUTPUT": str(temp / "output"),
    }


def step(job: str, name: str, cwd: Path, env: dict[str, str], **more: str) -> dict[str, str]:
    """Run a step that has to end well, and give its outputs."""
    shell, text = BLOCKS[f"{job}/{name}"]
    output = Path(env["GITHUB_OUTPUT"])
    output.write_text("", "utf-8")
    done = ran(shell, text, cwd, {**env, **more})
    assert 0 == done.returncode, done.stderr.decode()
    assert not [*cwd.parent.rglob("pwned")]
    return dict(line.split("=", 1) for line in output.read_text("utf-8").splitlines())


def test_github_checks_the_merge_result_and_writes_the_files(
    proposal: Any, env: dict[str, str], tmp_path: Path
) -> None:
    out = step(f"{GITHUB[0]}/check", "Check the merge result, and say what it changes", proposal.path, env)

    assert {"status": "1"} == out
    made = tmp_path / "runner" / "recipes"
    names = {"check.sarif", "check.junit.xml", "review.html", "review.md", "review.sarif"}
    assert names == {path.name for path in made.iterdir()}
    # both sides are in what was checked: the fork's swap, and main's glycerin
    rules = {r["ruleId"] for r in helpers_hosts.sarif((made / "review.sarif").read_text("utf-8"))["runs"][0]["results"]}
    assert "shear-at-most" in rules
    assert "toner" not in (made / "review.md").read_text("utf-8")
    helpers_hosts.markdown((made / "review.md").read_text("utf-8"))
    helpers_hosts.junit((made / "check.junit.xml").read_text("utf-8"))
    assert (
        1
        == ran(
            "bash", BLOCKS[f"{GITHUB[0]}/check/Fail where something blocks"][1], made, env | {"STATUS": "1"}
        ).returncode
    )


class Github:
    """The two trusted jobs, one after the other, against a host that we serve."""

    def __init__(self, repo: Any, env: dict[str, str], api: Api) -> None:
        self.head = repo.git("rev-parse", EVIL)
        self.folder = repo.path.parent / "job"
        self.folder.mkdir()
        self.api = api
        clone = repo.path.parent / "served" / "team"
        clone.mkdir(parents=True)
        repo.git("update-ref", "refs/pull/7/head", EVIL)
        repo.git("update-ref", "refs/pull/8/head", EVIL)
        repo.git("clone", "--quiet", "--mirror", str(repo.path), str(clone / "recipes"))
        self.env = {
            **env,
            "GITHUB_API_URL": api.url,
            "GITHUB_SERVER_URL": f"file://{clone.parent}",
            "GITHUB_REPOSITORY": "team/recipes",
            "GITHUB_TOKEN": "t0ken",
            "HEAD_SHA": self.head,
            "BASE_SHA": repo.git("rev-parse", "main"),
            "NUMBER": "7",
        }
        for number in (7, 8):
            api.answers[f"/repos/team/recipes/pulls/{number}"] = {"head": {"sha": self.head}, "title": EVIL}

    def review(self) -> dict[str, str]:
        """Run the job that reads, and give its outputs."""
        folder = Path(self.env["RUNNER_TEMP"], "recipes.git")
        shutil.rmtree(folder, ignore_errors=True)
        return step(f"{GITHUB[1]}/review", "Review what the merge would bring", self.folder, self.env)

    def comment(self, outputs: dict[str, str], text: str | None = None) -> None:
        """Run the job that writes, with the report that was made, another, or none."""
        made = Path(self.env["RUNNER_TEMP"], "review.md")
        file = Path(self.env["RUNNER_TEMP"], "review", "review.md")
        file.parent.mkdir(exist_ok=True)
        file.unlink(missing_ok=True)
        if outputs:
            file.write_text(made.read_text("utf-8") if text is None else text, "utf-8")
        given = {name.upper(): outputs.get(name, "") for name in ("status", "base", "merged")}
        step(f"{GITHUB[1]}/comment", "Write the one comment, and set the status", self.folder, self.env | given)

    def state(self) -> tuple[str, str]:
        """Give where the last status was set, and what it says."""
        method, path, data = self.api.written[-1]
        assert "POST" == method
        assert "recipes review" == data["context"]
        return path, data["state"]


@pytest.fixture
def api() -> Iterator[Api]:
    """Give an API that knows nothing yet."""
    with served() as found:
        yield found


def test_github_posts_its_own_review_and_then_keeps_it_up_to_date(proposal: Any, env: dict[str, str], api: Api) -> None:
    github = Github(proposal, env, api)
    base = github.env["BASE_SHA"]
    outputs = github.review()
    assert {"status": "1", "base": base, "merged": "yes"} == outputs
    text = Path(env["RUNNER_TEMP"], "review.md").read_text("utf-8")
    helpers_hosts.markdown(text)
    assert text.startswith(f"{MARKER}\n")
    assert "shear-at-most" in text

    comments = "/repos/team/recipes/issues/7/comments"
    github.comment(outputs)
    body = f"{MARKER}\nCommit {github.head}, merged into {base}.\n\n{text.removeprefix(MARKER).lstrip()}"
    helpers_hosts.markdown(body)
    api.answers[comments] = [
        {"id": 1, "user": {"login": "mallory"}, "body": text},
        {"id": 2, "user": {"login": "github-actions[bot]"}, "body": "of another job"},
        {"id": 3, "user": {"login": "github-actions[bot]"}, "body": text},
    ]
    github.comment(outputs)

    status = (f"/repos/team/recipes/statuses/{github.head}", "failure")
    assert status == github.state()
    assert [("POST", comments), ("PATCH", "/repos/team/recipes/issues/comments/3")] == [
        call[:2] for call in api.written if "statuses" not in call[1]
    ]
    assert [{"body": body}] * 2 == [call[2] for call in api.written if "statuses" not in call[1]]


def test_github_reviews_two_pull_requests_with_one_head_each(proposal: Any, env: dict[str, str], api: Api) -> None:
    github = Github(proposal, env, api)

    for number in ("7", "8"):
        github.env["NUMBER"] = number
        github.comment(github.review())

    assert [f"/repos/team/recipes/issues/{number}/comments" for number in (7, 8)] == [
        path for _, path, _ in api.written if path.endswith("/comments")
    ]


def test_github_passes_what_nothing_blocks(both: Any, env: dict[str, str], api: Api) -> None:
    both.git("branch", EVIL, "proposal")
    github = Github(both, env | {}, api)
    github.env["BASE_SHA"] = both.git("merge-base", "main", "proposal")

    github.comment(github.review())

    assert "success" == github.state()[1]


def test_github_never_leaves_an_earlier_review_for_one_that_fails(proposal: Any, env: dict[str, str], api: Api) -> None:
    github = Github(proposal, env, api)

    for outputs, text in (({}, None), ({"status": "2"}, ""), ({"status": "0", "merged": "yes"}, "no marker")):
        github.comment(outputs, text)
        said = api.written[-2][2]["body"]

        assert said.startswith(f"{MARKER}\n**There is no review of commit {github.head}:**")
        assert "failure" == github.state()[1]


def test_github_says_that_it_does_not_merge_cleanly(both: Any, env: dict[str, str], api: Api) -> None:
    both.git("switch", "--quiet", "proposal")
    both.commit("clash", {"cream.toml": (both.path / "cream.toml").read_text("utf-8").replace("= 5.00", "= 7.00")})
    both.git("branch", EVIL, "proposal")
    github = Github(both, env, api)

    outputs = github.review()
    github.comment(outputs)

    assert "no" == outputs["merged"]
    assert "**it does not merge cleanly**" in api.written[-2][2]["body"]
    assert "failure" == github.state()[1]


def test_github_says_nothing_where_the_pull_request_moved_on(proposal: Any, env: dict[str, str], api: Api) -> None:
    github = Github(proposal, env, api)
    github.env["HEAD_SHA"] = "0" * 40

    assert {} == github.review()
    github.comment({})
    assert [] == api.written


@pytest.mark.parametrize("size", [64_500, 64_501])
def test_github_posts_nothing_that_does_not_fit(proposal: Any, env: dict[str, str], api: Api, size: int) -> None:
    github = Github(proposal, env, api)
    text = f"{MARKER}\n".ljust(size, "x")

    github.comment({"status": "0", "base": "1" * 40, "merged": "yes"}, text)

    assert (size == 64_500) == ("xxx" in api.written[-2][2]["body"])
    assert 65_536 > len(api.written[-2][2]["body"])


def gitlab(job: str, cwd: Path, env: dict[str, str]) -> Any:
    """Run a job of GitLab without its installation."""
    *install, text = ci_file(GITLAB)[job]["script"]
    assert all("pip install" in line for line in install)
    return ran("sh", text, cwd, env)


def scheduled(cwd: Path, env: dict[str, str]) -> Any:
    """Run the three jobs of the schedule, each given its own variables and the files of the one before."""
    shutil.rmtree(cwd / "recipes-reviews", ignore_errors=True)
    token = {"FORMULA_COMMENT_TOKEN": "t0ken"}
    opened = gitlab("recipes-open", cwd, env | token)
    assert 0 == opened.returncode, opened.stderr.decode()
    reviewed = gitlab("recipes-reviews", cwd, env | {"CI_JOB_TOKEN": "j0b"})
    assert 0 == reviewed.returncode, reviewed.stderr.decode()
    return reviewed, gitlab("recipes-comment", cwd, env | token)


def test_gitlab_checks_the_merge_result_and_writes_the_files(proposal: Any, env: dict[str, str]) -> None:
    proposal.git("switch", "--quiet", EVIL)
    proposal.git("branch", "$(touch${IFS}pwned)", "main")
    proposal.git("clone", "--quiet", "--mirror", str(proposal.path), str(proposal.path.parent / "target.git"))
    more = {
        "CI_MERGE_REQUEST_PROJECT_URL": f"file://{proposal.path.parent / 'target'}",
        "CI_MERGE_REQUEST_TARGET_BRANCH_NAME": "$(touch${IFS}pwned)",
    }

    done = gitlab("recipes", proposal.path, env | more)

    assert 1 == done.returncode, done.stderr.decode()
    assert not [*proposal.path.parent.rglob("pwned")]
    made = proposal.path / "recipes-report"
    assert helpers_hosts.gitlab((made / "review.quality.json").read_text("utf-8"))
    assert helpers_hosts.junit((made / "check.junit.xml").read_text("utf-8"))
    assert helpers_hosts.sarif((made / "check.sarif").read_text("utf-8"))
    reports = ci_file(GITLAB)["recipes"]["artifacts"]["reports"]
    assert all((proposal.path / file).is_file() for file in reports.values())


@pytest.fixture
def both(git_repo: Any) -> Any:
    """Give a branch and a proposal that pass, each by itself, and merge cleanly to 110 %."""
    cream = (
        MINIMAL["cream.toml"]
        .replace("[[step]]", "[phase.B.charge]\noil = 10.00\n\n[[step]]")
        .replace('add   = ["A"]', 'add   = ["A", "B"]')
    )
    repo = git_repo({
        **MINIMAL, "cream.toml": cream,
        "ingredients/oil.toml": MINIMAL["ingredients/glycerin.toml"].replace("Glycerin", "Oil"),
    })  # fmt: skip
    repo.git("branch", "proposal")
    repo.commit("ours", {"cream.toml": cream.replace("glycerin = 5.00", "glycerin = 60.00")})
    repo.git("switch", "--quiet", "proposal")
    repo.commit("theirs", {"cream.toml": cream.replace("oil = 10.00", "oil = 50.00")})
    repo.git("update-ref", "refs/merge-requests/7/head", "proposal")
    repo.git("clone", "--quiet", "--mirror", str(repo.path), str(repo.path.parent / "project.git"))
    return repo


def test_gitlab_reviews_what_the_merge_would_make(both: Any, env: dict[str, str], api: Api) -> None:
    project = f"file://{both.path.parent / 'project'}"
    notes = "/projects/5/merge_requests/7/notes"
    api.answers["/user"] = {"id": 9}
    api.answers["/projects/5/merge_requests?state=opened"] = [{"iid": 7, "target_branch": "main", "title": "Oil"}]
    api.answers[notes] = []
    job = both.path.parent / "job"
    job.mkdir()

    checked = gitlab(
        "recipes", both.path,
        env | {"CI_MERGE_REQUEST_PROJECT_URL": project, "CI_MERGE_REQUEST_TARGET_BRANCH_NAME": "main"},
    )  # fmt: skip
    api.answers["/projects/5/merge_requests/7"] = {"sha": both.git("rev-parse", "proposal")}
    _, posted = scheduled(job, env | {"CI_API_V4_URL": api.url, "CI_PROJECT_ID": "5", "CI_PROJECT_URL": project})

    assert 1 == checked.returncode, checked.stderr.decode()
    assert 0 == posted.returncode, posted.stderr.decode()
    for text in ((both.path / "recipes-report" / "review.md").read_text("utf-8"), api.written[0][2]["body"]):
        assert "balance-left" in text
        assert "110" in text
        assert "\nNothing blocks." not in text


def test_gitlab_reviews_the_proposal_alone_where_lines_clash(both: Any, env: dict[str, str]) -> None:
    both.git("switch", "--quiet", "proposal")
    both.commit("clash", {"cream.toml": (both.path / "cream.toml").read_text("utf-8").replace("= 5.00", "= 7.00")})
    project = f"file://{both.path.parent / 'project'}"

    done = gitlab(
        "recipes", both.path,
        env | {"CI_MERGE_REQUEST_PROJECT_URL": project, "CI_MERGE_REQUEST_TARGET_BRANCH_NAME": "main"},
    )  # fmt: skip

    assert 1 == done.returncode, done.stderr.decode()
    report = both.path / "recipes-report"
    assert "from their merge base" in (report / "review.md").read_text("utf-8")
    assert "conflict" in (report / "check.junit.xml").read_text("utf-8")


def test_gitlab_posts_from_the_schedule_and_once_for_a_state(proposal: Any, env: dict[str, str], api: Api) -> None:
    job = proposal.path.parent / "job"
    job.mkdir()
    proposal.git("clone", "--quiet", "--mirror", str(proposal.path), str(proposal.path.parent / "project.git"))
    variables = {
        **env,
        "CI_API_V4_URL": api.url,
        "CI_PROJECT_ID": "5",
        "CI_PROJECT_URL": f"file://{proposal.path.parent / 'project'}",
    }
    one = "/projects/5/merge_requests/7"
    api.answers[one] = {"sha": proposal.git("rev-parse", EVIL)}
    notes = "/projects/5/merge_requests/7/notes"
    api.answers["/user"] = {"id": 9}
    api.answers["/projects/5/merge_requests?state=opened"] = [
        {"iid": 6, "target_branch": "gone", "title": EVIL},
        {"iid": 7, "target_branch": "main", "title": EVIL},
    ]
    api.answers[notes] = [{"id": 1, "author": {"id": 8}, "body": MARKER}]

    reviewed, posted = scheduled(job, variables)

    # one that cannot be fetched is said, and keeps nobody else from a review
    assert 1 == posted.returncode
    assert reviewed.stdout.startswith(b"merge request 6: CalledProcessError: ")
    assert 1 == reviewed.stdout.count(b"merge request")
    method, path, data = api.written[0]
    assert ("POST", notes) == (method, path)
    helpers_hosts.markdown(data["body"].rpartition("\n<!-- ")[0])
    assert "shear-at-most" in data["body"]
    assert data["body"].startswith(f"{MARKER}\nCommit {proposal.git('rev-parse', EVIL)}, merged into ")
    assert 65_536 > len(data["body"])

    api.answers[notes].append({"id": 2, "author": {"id": 9}, "body": data["body"]})
    scheduled(job, variables)
    assert 1 == len(api.written)

    proposal.git("push", "--quiet", str(proposal.path.parent / "project.git"), "+main~0:refs/merge-requests/7/head")
    scheduled(job, variables)
    assert 1 == len(api.written), "it moved on while it was reviewed"
    api.answers[one] = {"sha": proposal.git("rev-parse", "main")}
    scheduled(job, variables)
    assert ("PUT", f"{notes}/2") == api.written[-1][:2]
    assert not [*proposal.path.parent.rglob("pwned")]


def test_gitlab_posts_only_where_the_branch_is_protected() -> None:
    for name in ("recipes-open", "recipes-reviews", "recipes-comment"):
        job = ci_file(GITLAB)[name]

        assert ['$CI_PIPELINE_SOURCE == "schedule" && $CI_COMMIT_REF_PROTECTED == "true"'] == [
            r["if"] for r in job["rules"]
        ]
        assert {"GIT_STRATEGY": "none"} == job["variables"]


def test_the_manual_names_the_files() -> None:
    text = (HOOKS.parent / "formula_vcs" / "manual" / "pull-requests.md").read_text("utf-8")

    assert all(f"hooks/{name}" in text for name in (*GITHUB, GITLAB))
