"""Text in a cell of a spreadsheet: what would be run as a formula is made inert."""

import re
from collections.abc import Sequence

_MARKS = "=+\\-@＝＋－＠"  # the wide ones where a spreadsheet takes them for the others
_SPLITS = ",;\t\r\n"
_BETWEEN = "\x1f"  # cells, where many are looked at together
# A spreadsheet whose cells end at another character than the file's begins a cell there too.
_RUN = re.compile(rf"(?:^|(?<=[{_SPLITS}]))(?=[{_MARKS}])|^(?=[\t\r\n])")
_INERT = re.compile(rf"(?:^|(?<=[{_SPLITS}]))'(?=[{_MARKS}])|^'(?=[\t\r\n])")
_SOME_RUN = re.compile(rf"(?:^|[{_SPLITS}{_BETWEEN}])[{_MARKS}]|(?:^|{_BETWEEN})[\t\r\n]")


def inert(text: str) -> str:
    """Return *text* so that no spreadsheet runs it: an apostrophe goes before what it might.

    For text only; a number is written as a number, whatever its sign.
    """
    return _RUN.sub("'", text)


def inert_column(cells: Sequence[str]) -> list[str]:
    """Return a column with each of its cells inert; hardly ever is there one to look at."""
    return [inert(cell) for cell in cells] if _SOME_RUN.search(_BETWEEN.join(cells)) else [*cells]


def plain(text: str) -> str:
    """Return what `inert` was given."""
    return _INERT.sub("", text)
