"""Chapters of the manual as plain text of 80 columns."""

from __future__ import annotations

import pytest

from formula_vcs.reports.manual.text import contents, plain
from formula_vcs.reports.terminal import columns
from formula_vcs.setup.shipped import Chapter, chapters

MARKDOWN = """\
# A cream

It is **mild**, see [the law](law.md) and
[law.md](law.md).

## What | where

| what | where | how |
|---|---|---|
| water | phase A | `to 100` |
| oil \\| wax | | melted |

- one thing that is so long that it does not fit into a line of eighty columns, so that it goes on below
- another

```sh
git formula show a-recipe-with-a-long-name          # what it comes to, with a remark that is too long for the line
#  as it is
```

    indented as it is

"""
PLAIN = """\
A cream
=======

It is mild, see the law (law.md) and law.md.

What | where
------------

  water
      where: phase A
      how: `to 100`
  oil | wax
      how: melted

- one thing that is so long that it does not fit into a line of eighty columns,
  so that it goes on below
- another

    # what it comes to, with a remark that is too long for the line
    git formula show a-recipe-with-a-long-name
    #  as it is

    indented as it is
"""


def test_each_part_of_a_chapter_is_laid_out() -> None:
    assert plain(MARKDOWN) == PLAIN


def test_another_chapter_is_named_as_it_is_asked_for() -> None:
    assert plain("More: `formula_vcs/manual/law.md`.") == "More: `git formula help law`.\n"


def test_a_table_of_two_columns_needs_no_heads() -> None:
    assert plain("| key | takes |\n|---|---|\n| a | b |") == "  a\n      b\n"


@pytest.mark.parametrize("text", ["", "\n", "```", "```\nopen", "|", "||", "- ", "#", "<!-- x -->", "1. a\n   b"])
def test_whatever_is_written_is_printed(text: str) -> None:
    assert plain(text).endswith("\n")


def test_a_sample_that_is_too_wide_is_set_in_less_or_folded() -> None:
    wide = "-" * 78

    assert plain(f"```text\n{wide}\n```") == f"  {wide}\n"
    assert plain(f"```sh\n{wide} on\n```") == f"    {wide} \\\n        on\n"
    remark = f"```toml\n  a = 1  # {'-' * 64} and so on\n```"
    assert plain(remark) == f"      # {'-' * 64} and so\n      # on\n      a = 1\n"
    assert plain(f"    {wide}") == f"  {wide}\n"


def test_the_list_of_chapters_has_a_line_for_each() -> None:
    listed = contents([Chapter("a", "First", ""), Chapter("long-one", "Second", "")])

    assert "  a         First\n  long-one  Second\n" in listed


@pytest.mark.parametrize("topic", list(chapters()))
def test_each_chapter_has_a_title_and_fits_into_80_columns(topic: str) -> None:
    chapter = chapters()[topic]

    assert chapter.text.startswith(f"# {chapter.title}\n")
    assert [line for line in plain(chapter.text).splitlines() if columns(line) > 80] == []
