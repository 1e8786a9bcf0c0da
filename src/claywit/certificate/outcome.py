"""What a check found: a code for a machine and a sentence for a person."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Failure:
    """One thing that is wrong; *code* names its kind and never changes its meaning."""

    code: str
    sentence: str


class Refused(Exception):  # noqa: N818 - it names what happened, and is no mistake of a user
    """Raised inside a check as soon as going on would make no sense."""

    def __init__(self, code: str, sentence: str) -> None:
        """Keep the *code* and the *sentence* of the failure."""
        super().__init__(sentence)
        self.failure = Failure(code, sentence)
