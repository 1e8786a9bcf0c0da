"""The words of an exchange file one after the other, each with its line."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NoReturn

from claywit.errors import ModelError

_DECIMAL = re.compile(r"(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)


@dataclass(frozen=True)
class Token:
    """One word or mark, and its line; *quoted* words are never keywords or marks."""

    text: str
    line: int
    quoted: bool = False


class Tokens:
    """A reader of tokens that names file and line whenever something else was expected."""

    def __init__(self, name: str, found: Iterator[Token]) -> None:
        """Read the tokens *found* in the file called *name*."""
        self._name = name
        self._all = list(found)
        self._at = 0

    def refuse(self, text: str) -> NoReturn:
        """Raise the error *text* at the line of the last token taken."""
        last = self._all[max(self._at - 1, 0)].line if self._all else 1
        raise ModelError(f"{self._name}:{last}: {text}")

    def ended(self) -> bool:
        """Return whether all tokens are taken."""
        return self._at >= len(self._all)

    def sees(self, mark: str) -> bool:
        """Return whether the next token is the keyword or mark *mark*."""
        if self.ended():
            return False
        token = self._all[self._at]
        return token.text == mark and not token.quoted

    def take(self, wanted: str) -> str:
        """Take the next token; *wanted* says in a message what should stand there."""
        if self.ended():
            self.refuse(f"the file ends where {wanted} is expected; it is cut off")
        self._at += 1
        return self._all[self._at - 1].text

    def skip(self, mark: str) -> bool:
        """Take the next token if it is *mark*."""
        seen = self.sees(mark)
        self._at += seen
        return seen

    def expect(self, mark: str) -> None:
        """Take the next token, which must be *mark*."""
        if not self.skip(mark):
            found = self.take(f"'{mark}'")
            self.refuse(f"'{found[:60]}' where '{mark}' is expected")

    def count(self, what: str) -> int:
        """Take a whole number of at most nine digits."""
        text = self.take(what)
        if not re.fullmatch(r"\d{1,9}", text, re.ASCII):
            self.refuse(f"'{text[:60]}' where {what} is expected, a whole number")
        return int(text)

    def share(self) -> float:
        """Take a probability."""
        text = self.take("a probability")
        value = probability(text)
        if value is None:
            self.refuse(f"'{text[:60]}' where a probability is expected, a number from 0 to 1")
        return value


def probability(text: str) -> float | None:
    """Return the number that *text* states, or None if it is not one from 0 to 1."""
    value = float(text) if _DECIMAL.fullmatch(text) else -1.0
    return value if 0 <= value <= 1 else None
