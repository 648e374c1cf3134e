"""The hatches that fill marks besides colour: defined once a page, used by class."""

from __future__ import annotations

from typing import Final

_SLANTS: Final = {"over": "bad", "near": "warn", "takes": "s3"}
_SERIES: Final = 6


def patterns() -> str:
    """Give the definitions, which take no room."""
    found = [_pattern(f"hatch-{name}", css, "M-2 2 L2 -2 M0 8 L8 0 M6 10 L10 6") for name, css in _SLANTS.items()]
    found += [_pattern(f"hatch-{n}", f"s{n}", "M-2 6 L2 10 M0 0 L8 8 M6 -2 L10 2") for n in range(1, _SERIES + 1)]
    return f'<svg class="defs" width="0" height="0" aria-hidden="true"><defs>{"".join(found)}</defs></svg>'


def _pattern(name: str, css: str, path: str) -> str:
    return (
        f'<pattern id="{name}" width="8" height="8" patternUnits="userSpaceOnUse">'
        f'<rect width="8" height="8" class="{css}"/><path d="{path}" class="hatch"/></pattern>'
    )
