"""A page taken apart by Python's own parser of HTML: what elements it has, and whether they are ones that we write."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Final

VOID: Final = frozenset({"meta", "br", "img", "rect", "line", "circle", "path"})
_PLAIN: Final = (
    "head", "title", "style", "h1", "h3", "h4", "header", "thead", "tbody", "tr", "table", "pre", "dt", "dd",
    "figure", "figcaption", "em", "del", "ins", "strong", "br", "dl", "desc", "defs",
)  # fmt: skip
# All that a page of ours may hold, with its attributes; `id` is a counter or a name in our own code.
ALLOWED: Final[dict[str, frozenset[str]]] = {
    **dict.fromkeys(_PLAIN, frozenset()),
    "html": frozenset({"lang"}),
    "meta": frozenset({"charset", "http-equiv", "content", "name"}),
    "body": frozenset(),
    "main": frozenset({"id"}),
    "a": frozenset({"href", "class"}),
    "nav": frozenset({"aria-label"}),
    "section": frozenset({"class", "id", "aria-labelledby"}),
    "h2": frozenset({"id"}),
    "div": frozenset({"class", "id", "tabindex", "role", "aria-label"}),
    **dict.fromkeys(("caption", "summary", "p", "span", "strong", "ul", "ol", "li", "dl"), frozenset({"class"})),
    **dict.fromkeys(("th", "td"), frozenset({"scope", "class", "colspan"})),
    "details": frozenset({"open"}),
    "svg": frozenset({"role", "width", "height", "class", "aria-hidden", "x", "y", "overflow"}),
    "rect": frozenset({"x", "y", "width", "height", "class"}),
    "line": frozenset({"x1", "x2", "y1", "y2", "class"}),
    "circle": frozenset({"cx", "cy", "r", "class"}),
    "path": frozenset({"d", "class", "fill"}),
    "text": frozenset({"x", "y", "class", "text-anchor"}),
    "pattern": frozenset({"id", "width", "height", "patternunits"}),
}


@dataclass
class Element:
    """An element with its attributes, the text in it, and the elements in it."""

    tag: str
    attributes: dict[str, str] = field(default_factory=dict)
    inside: list[Element | str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """Give all text inside, blanks as one."""
        return " ".join("".join(part if isinstance(part, str) else f" {part.text} " for part in self.inside).split())

    @property
    def css(self) -> set[str]:
        """Give the classes."""
        return set(self.attributes.get("class", "").split())

    def all(self, tag: str = "", css: str = "") -> list[Element]:
        """Find the elements inside, at any depth, by tag and class."""
        found: list[Element] = []
        for part in self.inside:
            if isinstance(part, Element):
                if tag in ("", part.tag) and (not css or css in part.css):
                    found.append(part)
                found += part.all(tag, css)
        return found

    def one(self, tag: str = "", css: str = "") -> Element:
        """Give the only such element."""
        found = self.all(tag, css)
        assert 1 == len(found), f"{len(found)} elements {tag}.{css}"
        return found[0]


class _Builder(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Element("")
        self.open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs})
        assert len(element.attributes) == len(attrs), f"an attribute of <{tag}> stands there twice"
        self.open[-1].inside.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        assert self.open[-1].tag == tag, f"</{tag}> closes <{self.open[-1].tag}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.open[-1].inside.append(data)

    def handle_comment(self, data: str) -> None:
        raise AssertionError(f"a comment: {data[:80]}")


def parsed(html: str) -> Element:
    """Give a page as a tree; elements that are not closed in order are an error."""
    builder = _Builder()
    builder.feed(html)
    builder.close()
    assert 1 == len(builder.open), f"not closed: {[element.tag for element in builder.open[1:]]}"
    return builder.root


def strange(page: Element) -> list[str]:
    """Name what a page holds that none of ours may: elements, attributes, ways out of it, style by hand."""
    found: list[str] = []
    for element in page.all():
        allowed = ALLOWED.get(element.tag)
        if allowed is None:
            found.append(f"<{element.tag}>")
            continue
        found += [f"<{element.tag} {name}>" for name in element.attributes if name not in allowed]
        target = element.attributes.get("href", "#none")
        if not target.startswith("#") or not target[1:].isalnum():
            found.append(f"<{element.tag} href={target}>")
    ids = [element.attributes["id"] for element in page.all() if "id" in element.attributes]
    found += [f"id {name} twice" for name in set(ids) if ids.count(name) > 1]
    ways = [a.attributes.get("href", "") for a in page.all("a")]
    found += [f"a way to nowhere: {way}" for way in ways if way[1:] not in ids]
    return found
