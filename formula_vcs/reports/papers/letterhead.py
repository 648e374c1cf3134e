"""What a house adds to its documents: its name, words before and after, a colour, a logo.

All of it is text and one picture, so that a template can run nothing and reach nowhere, in HTML, PDF and DOCX alike.
"""

from __future__ import annotations

from collections.abc import Mapping

from formula_vcs.model.values import dataclass, field


@dataclass(frozen=True, slots=True)
class Logo:
    """A picture: its bytes, its type ("png" or "jpeg"), and its size in pixels."""

    data: bytes
    kind: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Letterhead:
    """The house's words.  ``texts`` has what stands before and after, by kind of document; "" is of all kinds."""

    name: str = ""
    address: str = ""
    foot: str = ""
    accent: str = ""
    logo: Logo | None = None
    texts: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def before(self, kind: str) -> list[str]:
        """Give the paragraphs before the content of a kind of document."""
        return self._text(kind, "before")

    def after(self, kind: str) -> list[str]:
        """Give the paragraphs after it."""
        return self._text(kind, "after")

    def _text(self, kind: str, where: str) -> list[str]:
        texts = [self.texts.get(name, {}).get(where, "") for name in ("", kind)]
        return [part for text in texts for part in text.split("\n\n") if part.strip()]
