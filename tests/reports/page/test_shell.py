"""The frame of a page: what it forbids, and how text gets into it."""

from __future__ import annotations

import pytest

from formula_vcs.reports.document.markup import Markup
from formula_vcs.reports.page.shell import POLICY, document, escape
from tests.helpers_html import parsed


@pytest.mark.parametrize(
    ("text", "html"),
    [
        ("<b>", "&lt;b&gt;"),
        ("\" onload='x'", "&quot; onload=&#x27;x&#x27;"),
        ("a & b", "a &amp; b"),
        ("\x1b[31m", "\\x1b[31m"),
        ("abc\u202edef", "abc\\u202edef"),
        ("one\ntwo", "one\\x0atwo"),
        ("caf\u00e9 \u2192", "caf\u00e9 \u2192"),
    ],
)
def test_text_is_made_harmless(text: str, html: str) -> None:
    assert html == escape(text)


def test_the_page_forbids_scripts_and_the_network() -> None:
    page = parsed(document("A <title>", Markup("<main></main>")))

    policy = next(meta for meta in page.all("meta") if "http-equiv" in meta.attributes)
    assert POLICY == policy.attributes["content"]
    assert "default-src 'none'" in POLICY
    assert "script-src" not in POLICY  # so the default holds, which is none
    assert "A <title>" == page.one("title").text
    assert "en" == page.one("html").attributes["lang"]


def test_the_style_asks_for_nothing() -> None:
    style = parsed(document("t", Markup(""))).one("style").text

    assert "@import" not in style
    assert "//" not in style.replace("/*", "").replace("*/", "")
    assert {"#hatch"} == {part.partition(")")[0][:6] for part in style.split("url(")[1:]}
