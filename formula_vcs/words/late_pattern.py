"""A regular expression that is compiled when it is first looked for: a hook loads two hundred and needs forty."""

from __future__ import annotations

import re
from typing import AnyStr, cast


class _Late:
    """Stands for a pattern until somebody asks it something."""

    def __init__(self, text: str | bytes, flags: int) -> None:
        self._text = text
        self._flags = flags

    def __getattr__(self, name: str) -> object:
        """Give what the pattern has under a name, and keep it: the next time it is found without this."""
        found = getattr(re.compile(self._text, self._flags), name)
        setattr(self, name, found)
        return found


def late_pattern(text: AnyStr, flags: int = 0) -> re.Pattern[AnyStr]:
    """Give a pattern by its text.  What `re` itself is handed (``re.sub(pattern, ...)``) must be a compiled one."""
    return cast("re.Pattern[AnyStr]", _Late(text, flags))
