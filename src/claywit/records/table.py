"""The rows of a CSV file without a fault, a line at a time; the first fault is an error.

`delimited` reads what may have faults, and costs no more than the row that has one.
"""

import csv
from collections.abc import Iterator
from itertools import chain
from typing import BinaryIO

from claywit.errors import ClaywitError, warn_of_end

MAX_LINE = 100_000  # bytes


def table_rows(
    stream: BinaryIO, where: str, error: type[ClaywitError]
) -> Iterator[tuple[int, list[str]]]:
    """Yield the last line of each row of a CSV file and its cells, without blanks around them.

    Comma, semicolon and tab are all understood: the first of them in the first line counts.

    Raises:
        ClaywitError: of the kind *error*: not UTF-8, a line too long, or quotes left open.
    """
    lines = _lines(stream, where, error)
    first = next(lines, "")
    reader = csv.reader(chain([first], lines), delimiter=delimiter_in(first), strict=True)
    while True:
        try:
            cells = next(reader, None)
        except csv.Error as wrong:
            raise error(f"{where}:{reader.line_num}: not readable as CSV: {wrong}") from None
        if cells is None:
            return
        yield reader.line_num, [cell.strip() for cell in cells]


def delimiter_in(head: str) -> str:
    """Return which of comma, semicolon and tab comes first; a comma if none does."""
    return next((c for c in head if c in ",;\t"), ",")


def _lines(stream: BinaryIO, where: str, error: type[ClaywitError]) -> Iterator[str]:
    number = 0
    while line := stream.readline(MAX_LINE + 1):
        number += 1
        if len(line) > MAX_LINE:
            raise error(f"{where}:{number}: a line of more than {MAX_LINE:,} bytes")
        try:
            text = line.decode("utf-8-sig" if number == 1 else "utf-8")
        except UnicodeDecodeError:
            raise error(f"{where}:{number}: not UTF-8; save the file as CSV UTF-8") from None
        if "\0" in text:
            raise error(f"{where}:{number}: holds a NUL byte; save the file as CSV UTF-8")
        if not text.endswith("\n"):
            warn_of_end(f"{where}:{number}")
        yield text
