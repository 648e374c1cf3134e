"""An editor's session over standard input and output, with the client of a library."""

from __future__ import annotations

import asyncio
import statistics
import sys
import time
from collections.abc import Callable, Coroutine
from pathlib import Path
from typing import Any

import pytest
from lsprotocol import types
from pygls.lsp.client import LanguageClient

from tests.conftest import MINIMAL

CREAM = MINIMAL["cream.toml"]
Story = Callable[["Session"], Coroutine[Any, Any, None]]


class Session:
    """One client, one server process, one workspace."""

    def __init__(self, root: Path, client: LanguageClient) -> None:
        self.root = root
        self.client = client
        self.said: dict[str, list[types.Diagnostic]] = {}
        self.versions: dict[str, int | None] = {}
        self.news = asyncio.Event()
        self._version = 0

        @client.feature(types.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)
        def said(params: types.PublishDiagnosticsParams) -> None:
            self.said[params.uri] = list(params.diagnostics)
            self.versions[params.uri] = params.version
            self.news.set()

    def uri(self, path: str) -> str:
        return (self.root / path).as_uri()

    async def start(self, capabilities: types.ClientCapabilities | None = None) -> types.InitializeResult:
        await self.client.start_io(sys.executable, "-m", "formula_vcs", "serve-editor", "--stdio")
        found = await self.client.initialize_async(
            types.InitializeParams(capabilities or types.ClientCapabilities(), root_uri=self.root.as_uri())
        )
        self.client.initialized(types.InitializedParams())
        return found

    async def open(self, path: str, text: str | None = None) -> list[types.Diagnostic]:
        content = (self.root / path).read_text("utf-8") if text is None else text
        item = types.TextDocumentItem(self.uri(path), "toml", 0, content)
        self.client.text_document_did_open(types.DidOpenTextDocumentParams(item))
        return await self.told(path, 0)

    def type(self, path: str, text: str) -> int:
        self._version += 1
        self.client.text_document_did_change(
            types.DidChangeTextDocumentParams(
                types.VersionedTextDocumentIdentifier(self._version, self.uri(path)),
                [types.TextDocumentContentChangeWholeDocument(text)],
            )
        )
        return self._version

    async def told(self, path: str, version: int) -> list[types.Diagnostic]:
        """Wait for what is said of a version."""
        uri = self.uri(path)
        async with asyncio.timeout(60):
            while self.versions.get(uri) != version:
                await self.news.wait()
                self.news.clear()
        return self.said[uri]

    async def typed(self, path: str, text: str) -> list[types.Diagnostic]:
        return await self.told(path, self.type(path, text))

    def at(self, path: str, line: int, column: int) -> dict[str, Any]:
        return {"text_document": types.TextDocumentIdentifier(self.uri(path)), "position": types.Position(line, column)}

    async def stop(self) -> int:
        await self.client.shutdown_async(None)
        self.client.exit(None)
        server = self.client._server
        assert server is not None
        return await asyncio.wait_for(server.wait(), 20)


@pytest.fixture
def lab(tmp_path: Path) -> Path:
    root = tmp_path / "lab"
    for name, text in MINIMAL.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(text, "utf-8")
    (root / "equipment").mkdir()
    (root / "equipment" / "pot.toml").write_text('title = "Big pot"\nkind = "vessel"\n')
    return root


def _run(root: Path, story: Story, capabilities: types.ClientCapabilities | None = None) -> None:
    async def whole() -> None:
        session = Session(root, LanguageClient("test", "1"))
        await session.start(capabilities)
        await story(session)
        assert await session.stop() == 0

    asyncio.run(whole())


def _line(text: str, words: str) -> int:
    return next(number for number, line in enumerate(text.split("\n")) if words in line)


def test_what_is_wrong_is_said_at_its_place_as_a_check_says_it(lab: Path) -> None:
    async def story(lsp: Session) -> None:
        assert [] == [one for one in await lsp.open("cream.toml") if one.severity == types.DiagnosticSeverity.Error]
        text = CREAM.replace("glycerin = 5.00", "glycerine = 5.00")
        found = await lsp.typed("cream.toml", text)

        line = _line(text, "glycerine")
        wrong = next(one for one in found if "glycerine" in one.message and one.range.start.line == line)
        assert wrong.range == types.Range(types.Position(line, 0), types.Position(line, len("glycerine")))
        assert wrong.severity == types.DiagnosticSeverity.Error
        assert wrong.source == "git formula"

    _run(lab, story)


def test_the_findings_are_those_of_a_check(lab: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import json

    from formula_vcs.cli import main

    text = CREAM.replace("5.00", "120.00").replace('shear = "low"', 'shear = "lo"').replace('"main"', '"main"\nfoo = 1')
    (lab / "cream.toml").write_text(text)
    main(["check", "--format", "json", "--workspace", str(lab), "--no-cache"])
    checked = json.loads(capsys.readouterr().out)["findings"]

    async def story(lsp: Session) -> None:
        found = await lsp.open("cream.toml")
        assert len(found) > 2
        assert sorted((one.range.start.line + 1, str(one.code)) for one in found) == sorted(
            (one["line"], one["rule"]) for one in checked if one["file"].endswith("cream.toml")
        )

    _run(lab, story)


def test_a_text_that_does_not_parse_says_so_and_silences_nothing(lab: Path) -> None:
    async def story(lsp: Session) -> None:
        await lsp.open("cream.toml")
        bad = CREAM.replace('shear = "low"', 'shear = "lo"')
        assert ["bad-value"] == [one.code for one in await lsp.typed("cream.toml", bad) if one.severity == 1]
        broken = bad.replace("glycerin = 5.00", 'glycerin = 5.00\nkelp = "')
        found = await lsp.typed("cream.toml", broken)

        assert any(one.code == "syntax" for one in found)
        (kept,) = [one for one in found if one.code == "bad-value"]
        assert kept.range.start.line == _line(broken, "shear")
        for junk in ("", "[", '"' * 3, "\x00", "[[[[" * 99, "a = 1\n" * 5000, "\ud83d\ude00 = ["):
            await lsp.typed("cream.toml", junk)
        assert [] == [one for one in await lsp.typed("cream.toml", CREAM) if one.severity == 1]

    _run(lab, story)


def test_columns_count_utf_16_units_unless_the_client_wants_others(lab: Path) -> None:
    text = CREAM.replace('title = "Cream"', 'title = "Cream"\nmarkets = ["\U0001f9f4\U0001f9f4", "EU"]; x = 1')
    text = text.replace("; x = 1", "").replace('"EU"]', '"EU", "XX"]')

    def story(expected: int) -> Story:
        async def told(lsp: Session) -> None:
            line = text.replace("glycerin = 5.00", '"\U0001f9f4" = 5.00; ')
            await lsp.open("cream.toml", line)
            hover = await lsp.client.text_document_hover_async(
                types.HoverParams(**lsp.at("cream.toml", _line(text, "water"), 1))
            )
            assert hover is not None
            bad = CREAM.replace('title = "Cream"', 'note = "\U0001f9f4" \U0001f9f4\ntitle = "Cream"')
            found = await lsp.typed("cream.toml", bad)
            (wrong,) = [one for one in found if one.code == "syntax" and one.range.start.line == 0]
            assert wrong.range.start.character == expected

        return told

    _run(lab, story(12))
    general = types.GeneralClientCapabilities(position_encodings=[types.PositionEncodingKind.Utf32])
    _run(lab, story(11), types.ClientCapabilities(general=general))


def test_it_says_what_an_ingredient_is_and_offers_what_could_stand_there(lab: Path) -> None:
    async def story(lsp: Session) -> None:
        await lsp.open("cream.toml")
        line = _line(CREAM, "glycerin")
        hover = await lsp.client.text_document_hover_async(types.HoverParams(**lsp.at("cream.toml", line, 2)))
        assert hover is not None
        words = str(hover.contents)
        for part in ("Glycerin", "5.00 % of the recipe", "INCI: ", "Price: "):
            assert part in words

        async def offered(text: str, line: int, column: int) -> set[str]:
            await lsp.typed("cream.toml", text)
            found = await lsp.client.text_document_completion_async(
                types.CompletionParams(**lsp.at("cream.toml", line, column))
            )
            assert isinstance(found, types.CompletionList)
            return {item.label for item in found.items}

        assert {"glycerin", "water"} <= await offered(CREAM.replace("glycerin = 5.00", "gly"), line, 3)
        shear = _line(CREAM, "shear")
        assert {'"low"', '"high"'} <= await offered(CREAM.replace('"low"', '"'), shear, 9)
        assert {"temp", "mixer"} <= await offered(CREAM + "te", CREAM.count("\n"), 2)
        into = _line(CREAM, "into")
        assert {'"pot"'} <= await offered(CREAM.replace('into  = "main"', 'into  = "'), into, 9)
        assert {'"main"', '"pot"'} <= await offered(CREAM + 'from = "', CREAM.count("\n"), 8)
        text = CREAM + 'time = "8 '
        assert {"min", "s"} <= await offered(text, CREAM.count("\n"), len('time = "8 '))
        assert "kg" not in await offered(text, CREAM.count("\n"), len('time = "8 '))
        assert '"8 min"' in await offered(CREAM + "time = ", CREAM.count("\n"), len("time = "))
        assert {"at_most", "pct"} <= await offered(CREAM.replace("5.00", "{ "), line, len("glycerin = { "))

    _run(lab, story)


def test_it_leads_to_the_ingredient_and_finds_its_uses_and_shows_the_balance(lab: Path) -> None:
    async def story(lsp: Session) -> None:
        await lsp.open("cream.toml")
        line = _line(CREAM, "glycerin")
        found = await lsp.client.text_document_definition_async(types.DefinitionParams(**lsp.at("cream.toml", line, 2)))
        assert isinstance(found, types.Location)
        assert found.uri == lsp.uri("ingredients/glycerin.toml")
        uses = await lsp.client.text_document_references_async(
            types.ReferenceParams(types.ReferenceContext(True), **lsp.at("ingredients/glycerin.toml", 0, 0))
        )
        assert uses is not None
        assert [(one.uri, one.range.start.line) for one in uses] == [(lsp.uri("cream.toml"), line)]
        whole = types.Range(types.Position(0, 0), types.Position(99, 0))
        hints = await lsp.client.text_document_inlay_hint_async(
            types.InlayHintParams(types.TextDocumentIdentifier(lsp.uri("cream.toml")), whole)
        )
        assert hints is not None
        assert {(hint.position.line, hint.label) for hint in hints} == {
            (_line(CREAM, "to 100"), "= 95.00 %"),
            (_line(CREAM, "[phase"), "total 100.00 %"),
        }

    _run(lab, story)


def _applied(text: str, edit: types.TextEdit) -> str:
    lines = text.split("\n")
    start, end = edit.range.start, edit.range.end
    assert start.line == end.line
    line = lines[start.line]
    lines[start.line] = line[: start.character] + edit.new_text + line[end.character :]
    return "\n".join(lines)


async def _fixed(lsp: Session, text: str, line: int, title: str) -> str:
    await lsp.typed("cream.toml", text)
    place = types.Range(types.Position(line, 0), types.Position(line, 99))
    found = await lsp.client.text_document_code_action_async(
        types.CodeActionParams(
            types.TextDocumentIdentifier(lsp.uri("cream.toml")), place, types.CodeActionContext(diagnostics=[])
        )
    )
    actions = [one for one in found or [] if isinstance(one, types.CodeAction) and title in one.title]
    assert actions, [one.title for one in found or []]
    assert actions[0].edit is not None
    assert actions[0].edit.changes is not None
    (edit,) = actions[0].edit.changes[lsp.uri("cream.toml")]
    return _applied(text, edit)


def test_quick_fixes_mend_what_they_say(lab: Path) -> None:
    async def story(lsp: Session) -> None:
        await lsp.open("cream.toml")
        text = CREAM.replace("glycerin = 5.00", "glycerine = 5.00")
        assert CREAM == await _fixed(lsp, text, _line(text, "glycerine"), "Change to 'glycerin'")
        text = CREAM.replace('"low"', '"lo"')
        assert CREAM == await _fixed(lsp, text, _line(text, "shear"), "Change to 'low'")
        text = CREAM.replace("glycerin = 5.00\n", "").replace('["A"]', '["A/water", "A/glycerin"]')
        fixed = await _fixed(lsp, text, _line(text, "add"), "Add 'glycerin' to phase A")
        assert 'glycerin = "q.s."' in fixed
        assert [] == [one for one in await lsp.typed("cream.toml", fixed) if "A/glycerin" in one.message]
        text = CREAM.replace('title = "Cream"', 'title = "Cream"\nproduct = "hand cream"')
        fixed = await _fixed(lsp, text, 0, "Accept this finding")
        assert '[[accept]]\nrule  = "preserved"' in fixed
        assert 'why   = "..."' in fixed
        said = [one.severity for one in await lsp.typed("cream.toml", text) if one.code == "preserved"]
        assert [types.DiagnosticSeverity.Warning] == said
        accepted = await lsp.typed("cream.toml", fixed.replace("...", "It is tested in its jar."))
        assert [] == [one for one in accepted if one.code == "preserved" and one.severity != 3]

    _run(lab, story)


def test_an_open_ingredient_that_is_not_saved_counts_for_the_recipes_that_are_open(lab: Path) -> None:
    async def story(lsp: Session) -> None:
        await lsp.open("cream.toml")
        await lsp.open("ingredients/glycerin.toml")
        lsp.versions.clear()
        await lsp.typed("ingredients/glycerin.toml", "title = ")
        await lsp.told("cream.toml", 0)
        assert any("glycerin" in one.message for one in lsp.said[lsp.uri("cream.toml")])

    _run(lab, story)


def test_a_file_that_moved_beside_the_editor_is_read_anew(lab: Path) -> None:
    async def story(lsp: Session) -> None:
        assert [] == [one for one in await lsp.open("cream.toml") if one.severity == types.DiagnosticSeverity.Error]
        (lab / "ingredients" / "glycerin.toml").unlink()
        lsp.versions.clear()
        gone = types.FileEvent(lsp.uri("ingredients/glycerin.toml"), types.FileChangeType.Deleted)
        lsp.client.workspace_did_change_watched_files(types.DidChangeWatchedFilesParams([gone]))
        # what was said at first of the whole workspace may still be on its way
        async with asyncio.timeout(60):
            while not any(
                "glycerin" in one.message and one.severity == types.DiagnosticSeverity.Error
                for one in await lsp.told("cream.toml", 0)
            ):
                lsp.versions.clear()

    _run(lab, story)


def test_the_nearest_number_that_mends_a_finding_is_a_quick_fix(lab: Path) -> None:
    rule = '[[rule]]\nid = "sticky"\nkind = "limit"\nsubstances = ["Glycerin"]\nat_most = "4 %"\nsource = "HS-1"\n'

    async def story(lsp: Session) -> None:
        await lsp.open("cream.toml")
        text = CREAM.replace('title = "Cream"', 'title = "Cream"\nproduct = "hand cream"\nmarkets = ["eu"]')
        found = await lsp.typed("cream.toml", text)
        (line,) = {one.range.start.line for one in found if one.severity == types.DiagnosticSeverity.Error}
        fixed = await _fixed(lsp, text, line, "Mend it: ")
        assert text.replace("glycerin = 5.00", "glycerin = 4.00") == fixed
        left = await lsp.typed("cream.toml", fixed)
        assert [] == [one.message for one in left if one.severity == types.DiagnosticSeverity.Error]

    (lab / "rules").mkdir()
    (lab / "rules" / "house.toml").write_text(rule, "utf-8")
    _run(lab, story)


@pytest.mark.parametrize(
    "uri",
    [
        "untitled:Untitled-1",
        "file:///etc/passwd",
        "file:///etc/x.toml",
        "file://host/share/x.toml",
        "file:///%00.toml",
        "git:/x.toml",
        "not an address",
        "file:///../../../../x.toml",
    ],
)
def test_an_address_of_no_file_of_a_workspace_is_left_alone(uri: str, lab: Path) -> None:
    async def story(lsp: Session) -> None:
        item = types.TextDocumentItem(uri, "toml", 0, "root = 1")
        lsp.client.text_document_did_open(types.DidOpenTextDocumentParams(item))
        hover = await lsp.client.text_document_hover_async(
            types.HoverParams(types.TextDocumentIdentifier(uri), types.Position(0, 0))
        )
        assert hover is None
        assert [] == [one for one in await lsp.open("cream.toml") if one.severity == 1]
        assert set(lsp.said) == {lsp.uri("cream.toml")}

    _run(lab, story)


def test_without_the_library_one_line_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from formula_vcs.cli import main

    for name in [name for name in sys.modules if name.partition(".")[0] in ("pygls", "lsprotocol")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.delitem(sys.modules, "formula_vcs.editor.server", raising=False)
    monkeypatch.setitem(sys.modules, "lsprotocol", None)

    assert 2 == main(["serve-editor"])
    assert "pip install 'formula-vcs[editor]'" in capsys.readouterr().err


@pytest.mark.slow
def test_in_a_workspace_of_1000_recipes_a_key_stroke_is_answered_in_100_ms(lab: Path) -> None:
    """The time of the processor is what counts here; the wall may be busy with others (`tests/bench/README.md`)."""
    for number in range(1000):
        (lab / f"cream-{number}.toml").write_text(CREAM.replace("5.00", f"{number % 90 + 1}.50"))

    async def story(lsp: Session) -> None:
        await lsp.open("cream-7.toml")
        times = []
        for number in range(40):
            text = CREAM.replace("5.00", f"{number}.25")
            begun = time.perf_counter()
            await lsp.typed("cream-7.toml", text)
            times.append(time.perf_counter() - begun)
        print(f"median {statistics.median(times) * 1000:.0f} ms, most {max(times) * 1000:.0f} ms")
        assert statistics.median(times) < 0.1

    _run(lab, story)
