"""What can go wrong and be put right by the person who asked.

ClaywitError
├── ModelError        a model file that cannot be read or is not sound
├── EvidenceError     an evidence file that cannot be read or does not fit the model
│   └── ImpossibleEvidence   findings that the model says cannot stand together
├── CertificateError  a certificate that cannot be issued
├── CasesError        a file of many pieces that cannot be read
├── SheetError        a question sheet that cannot be read, or answers that cannot all hold
└── CasebookError     a casebook or a bundle that cannot be read, or a step that it refuses

Each carries one message of one line, legible on any terminal, that names the place, what was
found, what was expected and the way out. Anything else that is raised is a bug of ours.
"""

import warnings
from collections.abc import Iterable
from difflib import get_close_matches
from itertools import islice

__all__ = [
    "CasebookError",
    "CasesError",
    "CertificateError",
    "ClaywitError",
    "ClaywitWarning",
    "EvidenceError",
    "ImpossibleEvidence",
    "ModelError",
    "SheetError",
    "did_you_mean",
    "legible",
    "warn_of_end",
]


LONGEST = 1_000  # characters of a message
LONGEST_NAME = 200  # characters of a name to which a near one is looked for
COMPARED = 2_000  # names that are compared: a file can know, and misspell, a hundred thousand


class ClaywitError(Exception):
    """Something the user can put right; *details* holds the further messages, if any."""

    def __init__(self, message: str, details: Iterable[str] = ()) -> None:
        """Keep the *message* of one line, and the *details* behind it."""
        super().__init__(legible(shortened(message)))
        self.details = tuple(legible(shortened(detail)) for detail in details)


class ModelError(ClaywitError):
    """A model that cannot be read or is not sound."""


class EvidenceError(ClaywitError):
    """Evidence that cannot be read or does not fit the model."""


class ImpossibleEvidence(EvidenceError):  # noqa: N818 - it names the state of affairs
    """Findings to which the model gives probability zero when taken together."""

    def __init__(self, message: str, findings: Iterable[str]) -> None:
        """Keep the *message*, and the names of the *findings* in conflict."""
        super().__init__(message)
        self.findings = tuple(findings)


class CertificateError(ClaywitError):
    """A certificate that cannot be issued."""


class CasesError(ClaywitError):
    """A file of many pieces that cannot be read."""


class SheetError(ClaywitError):
    """A question sheet that cannot be read, or answers that cannot all hold."""


class CasebookError(ClaywitError):
    """A casebook or a bundle that cannot be read or written, or a step that it refuses."""


class ClaywitWarning(UserWarning):
    """Something that was read all the same, and that somebody should look at."""


def warn_of_end(place: str) -> None:
    """Warn that the last line of a file has no end, so that what it says last may be cut off.

    Many programs leave the end of the last line out, so it is no error. Within a value, `20` that
    became `2` looks as whole as any.
    """
    said = "the last line has no end, so the file may be cut off; add a line end if it is whole"
    warnings.warn(legible(f"{place}: {said}"), ClaywitWarning, stacklevel=3)


def legible(text: str) -> str:
    r"""Return *text* with `\x1b` and the like for every character that shows nothing itself.

    A message quotes what stands in a file. Quoted raw, it could move the cursor of the terminal,
    turn the direction of what follows, or pass for a second line.
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def shortened(text: str) -> str:
    """Return *text* without its middle if it is too long: place and way out stand at the ends.

    What is quoted of a file can be as long as the file.
    """
    if len(text) <= LONGEST:
        return text
    return f"{text[: LONGEST // 2]} … {text[-LONGEST // 2 :]}"


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """Return a hint that names the nearest of *known*, or lists a few of them."""
    options = list(islice(known, COMPARED))
    near = get_close_matches(name, options, n=1, cutoff=0.6) if len(name) <= LONGEST_NAME else []
    if near:
        return f"did you mean {near[0]}?"
    if not options:
        return "none is known here"
    shown = ", ".join(options[:8])
    return f"known: {shown}{', …' if len(options) > 8 else ''}"
