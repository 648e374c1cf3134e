"""``git formula document``: each kind of one version, with what stands at its head; real git, the demo's files."""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import docx
import pytest

from formula_vcs.cli import main
from formula_vcs.toml.letterhead_file import PAPER_KINDS
from tests import helpers_html
from tests.conftest import GitRepo
from tests.helpers_demo import texts

Capsys = pytest.CaptureFixture[str]
Make = Callable[..., GitRepo]
DAY = ("--as-of", "2026-06-01", "--by", "Una Moor")
# the smallest PNG of 2 x 1 pixels would do; what counts is its head
PNG = (
    b"\x89PNG\r\n\x1a\n"
    + bytes.fromhex("0000000d49484452")
    + (2).to_bytes(4, "big")
    + (1).to_bytes(4, "big")
    + bytes(20)
)


@pytest.fixture(scope="module")
def files() -> dict[str, str]:
    """Give the demo's recipes and what they rest on, without batches and evidence, whose commits are elsewhere."""
    return {name: text for name, text in texts().items() if not name.startswith(("batches/", "evidence/", "lots/"))}


@pytest.fixture
def shop(git_repo: Make, monkeypatch: pytest.MonkeyPatch, files: dict[str, str]) -> GitRepo:
    """Give the demo's files committed and tagged, and stand in there."""
    repo = git_repo(files)
    repo.git("tag", "v1")
    monkeypatch.chdir(repo.path)
    return repo


def said(capsys: Capsys, *words: str, status: int = 0) -> str:
    capsys.readouterr()
    found = main(["document", *words])
    captured = capsys.readouterr()
    assert status == found, captured
    return captured.err if status else captured.out


def test_every_document_names_version_days_and_who_asked(shop: GitRepo, capsys: Capsys) -> None:
    head = shop.git("rev-parse", "HEAD")
    for kind in PAPER_KINDS:
        more = ("--since", "v1") if kind == "change-note" else ()
        out = said(capsys, kind, "hand-cream", *DAY, *more)
        for words in ("Skerry hand cream (hand-cream)", head, "v1", "2026-06-01", "Una Moor", "git-formula"):
            assert words in out, (kind, words)
        assert "Not approved" in out


def test_what_is_not_committed_is_a_draft(shop: GitRepo, capsys: Capsys) -> None:
    """A change of an ingredient is enough: what the recipe rests on is no version that can be found again."""
    path = shop.path / "ingredients/glycerin.toml"
    path.write_text(path.read_text("utf-8").replace('title     = "Glycerin', 'title     = "New glycerin', 1), "utf-8")
    assert "New glycerin" in path.read_text("utf-8")

    html = said(capsys, "composition", "hand-cream", *DAY, "--format", "html")
    assert "Draft: this is not committed" in html
    assert "DRAFT" in html[html.index("@page {") :]  # on every page that is printed
    assert "not committed" in said(capsys, "composition", "hand-cream", *DAY)
    assert "Draft" not in said(capsys, "composition", "hand-cream@v1", *DAY, "--format", "html")
    assert "New glycerin" not in said(capsys, "composition", "hand-cream@v1", *DAY)


def test_a_specification_invents_nothing(shop: GitRepo, capsys: Capsys) -> None:
    out = said(capsys, "specification", "hand-cream", *DAY)

    assert "4.8 to 5.2" in out
    for words in ("| odour", "yeasts and moulds", "shelf life", "| storage"):
        line = next(line for line in out.splitlines() if words in line)
        assert "not on file" in line, line


def test_the_list_for_artwork_says_what_changed(shop: GitRepo, capsys: Capsys) -> None:
    recipe = (shop.path / "hand-cream.toml").read_text("utf-8")
    changed = recipe.replace("corn-starch    = { pct = 1.50", "corn-starch    = { pct = 0.20").replace(
        "lavender-oil   = 0.15\n", ""
    )
    shop.commit("less", {"hand-cream.toml": changed})
    out = said(capsys, "ingredients", "hand-cream", *DAY, "--since", "v1")

    assert "Linalool goes, was number" in out
    assert "Zea Mays Starch moves from number 8 to" in out
    assert "Nothing changed" in said(capsys, "ingredients", "hand-cream", *DAY, "--since", "HEAD")
    assert "Artwork before this: not on file." in said(capsys, "ingredients", "hand-cream", *DAY)


def test_a_change_note_has_the_commits_and_their_reasons(shop: GitRepo, capsys: Capsys) -> None:
    recipe = (shop.path / "hand-cream.toml").read_text("utf-8")
    shop.commit(
        "Stiffer\n\nReason: it ran off the spatula",
        {"hand-cream.toml": recipe.replace("gum       = 0.30", "gum       = 0.35")},
    )
    out = said(capsys, "change-note", "hand-cream", *DAY, "--since", "v1")

    assert "0.30 → 0.35 %" in out
    assert "Stiffer" in out
    assert "it ran off the spatula" in out
    assert "Nothing changed" in said(capsys, "change-note", "hand-cream", *DAY, "--since", "HEAD")


def test_the_same_version_has_the_same_bytes(shop: GitRepo, capsys: Capsys) -> None:
    sums = set()
    for turn in ("a", "b"):
        for form in ("html", "pdf", "docx"):
            said(capsys, "allergens", "hand-cream", *DAY, "-o", f"{turn}.{form}")
        sums.add(
            tuple(
                hashlib.sha256((shop.path / f"{turn}.{form}").read_bytes()).hexdigest()
                for form in ("html", "pdf", "docx")
            )
        )

    assert 1 == len(sums)


def test_a_docx_has_head_mark_and_page_number_on_every_page(shop: GitRepo, capsys: Capsys) -> None:
    said(capsys, "composition", "hand-cream", *DAY, "-o", "c.docx")
    data = (shop.path / "c.docx").read_bytes()
    section = docx.Document(io.BytesIO(data)).sections[0]
    header = "\n".join(paragraph.text for paragraph in section.header.paragraphs)
    footer = section.footer._element.xml

    assert "(hand-cream), v1, content" in header
    assert "NOT APPROVED" in header
    assert "PAGE" in footer
    assert "NUMPAGES" in footer
    assert {(1980, 1, 1, 0, 0, 0)} == {part.date_time for part in zipfile.ZipFile(io.BytesIO(data)).infolist()}


EVIL = "Cream\\u0007\\u202e<script>&=1+1\\uFFFE"


@pytest.mark.parametrize("form", ["markdown", "html", "docx", "pdf"])
def test_a_name_that_means_ill_is_text_everywhere(shop: GitRepo, capsys: Capsys, form: str) -> None:
    """XML holds no bell and no half of a pair, and a line that turns round hides what it says."""
    recipe = (shop.path / "hand-cream.toml").read_text("utf-8").replace("Skerry hand cream", EVIL, 1)
    shop.commit("evil", {"hand-cream.toml": recipe})
    said(capsys, "claims", "hand-cream", *DAY, "-o", f"e.{form}", "--format", form)
    data = (shop.path / f"e.{form}").read_bytes()

    if form == "docx":
        texts_in = "\n".join(part.text for part in docx.Document(io.BytesIO(data)).paragraphs)
        assert "<script>&=1+1" in texts_in
        assert not {"\x07", "\u202e", "\ufffe"} & set(texts_in)
    elif form != "pdf":
        assert not {"\x07", "\u202e"} & set(data.decode("utf-8"))
        assert form != "html" or [] == helpers_html.strange(helpers_html.parsed(data.decode("utf-8")))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('nam = "x"', "documents.toml:1:1: unknown key 'nam'"),
        ('name = "x"\naccent = "red"', "documents.toml:2:1: 'red' is no colour"),
        ('accent = "#12345g"', "is no colour"),
        ("[composition]\nbefor = 'x'", "documents.toml:2:1: unknown key 'befor'"),
        ("name = ", "documents.toml:1:"),
        ('logo = "../up.png"', "lies outside the workspace"),
        ('logo = "/etc/hostname"', "lies outside the workspace"),
        ('logo = "out.png"', "lies outside the workspace"),
        ('logo = "house"', "is no file"),
        ('logo = "none.png"', "cannot be read"),
        ('logo = "a.svg"', "is no PNG or JPEG"),
        ('logo = "wide.png"', "2001 x 1 pixels"),
        ('logo = "large.png"', "524,289 bytes"),
        ('logo = "a\\u0000b.png"', "cannot be read"),
    ],
)  # fmt: skip
def test_a_template_that_is_wrong_is_refused(shop: GitRepo, capsys: Capsys, text: str, words: str) -> None:
    (shop.path / "house").mkdir()
    (shop.path.parent / "up.png").write_bytes(PNG)
    (shop.path / "out.png").symlink_to(shop.path.parent / "up.png")
    (shop.path / "a.svg").write_text("<svg onload='x'/>", "utf-8")
    (shop.path / "wide.png").write_bytes(PNG.replace((2).to_bytes(4, "big"), (2001).to_bytes(4, "big"), 1))
    (shop.path / "large.png").write_bytes(PNG + bytes(512 * 1024 + 1 - len(PNG)))
    (shop.path / "documents.toml").write_text(text, "utf-8")

    assert words in said(capsys, "composition", "hand-cream", *DAY, status=2)
    said(capsys, "composition", "hand-cream", *DAY, "--plain")


def test_a_template_stands_in_every_format(shop: GitRepo, capsys: Capsys) -> None:
    logo = Path(__file__).resolve().parents[2] / "formula_vcs" / "manual" / "review.png"
    (shop.path / "logo.png").write_bytes(logo.read_bytes())
    (shop.path / "documents.toml").write_text(
        'name = "Hollin <b> Workshop"\nlogo = "logo.png"\naccent = "#1f5560"\n[claims]\nbefore = "For the auditor."\n',
        "utf-8",
    )
    html = said(capsys, "claims", "hand-cream", *DAY, "--format", "html")

    assert "Hollin &lt;b&gt; Workshop" in html
    assert "data:image/png;base64," in html
    assert "img-src data:" in html
    assert "For the auditor." in html
    assert "For the auditor." not in said(capsys, "composition", "hand-cream", *DAY)
    said(capsys, "claims", "hand-cream", *DAY, "-o", "c.docx")
    assert any("media" in name for name in zipfile.ZipFile(shop.path / "c.docx").namelist())
    assert 0 == main(["check"])  # the template is nobody's recipe


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (("change-note", "hand-cream"), "--since REV"),
        (("claims", "hand-cream", "--since", "v1"), "takes no --since"),
        (("claims", "hand-creme"), "did you mean 'hand-cream'"),
        (("claims", "hand-cream", "-o", "x.odt"), "its ending says no format"),
        (("poem", "hand-cream"), "composition"),
    ],
)  # fmt: skip
def test_what_is_asked_wrongly_is_said(shop: GitRepo, capsys: Capsys, words: tuple[str, ...], line: str) -> None:
    assert line in said(capsys, *words, status=2)


def test_outside_git_a_document_is_a_draft(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys, files: dict[str, Any]
) -> None:
    for name, text in files.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, "utf-8")
    monkeypatch.chdir(tmp_path)

    assert "not committed" in said(capsys, "claims", "hand-cream", *DAY)
    assert "no git repository" in said(capsys, "change-note", "hand-cream", "--since", "v1", status=2)
