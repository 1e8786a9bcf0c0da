"""A file of priors: what someone believed before anything was seen."""

from typing import Literal

from pydantic import Field

from claywit.errors import EvidenceError
from claywit.model.source import Document
from claywit.model.typed import read_typed
from claywit.model.values import Name, Probability, StateName, Text, Value


class Priors(Value):
    """Priors on nodes without parents, and whose they are."""

    format: Literal["claywit-priors/1"]
    by: Text = ""
    priors: dict[Name, dict[StateName, Probability]] = Field(min_length=1)


def read_priors(text: bytes, name: str) -> tuple[Priors, Document]:
    """Return the priors that *text* holds, with the document that knows its lines.

    Raises:
        EvidenceError: the text cannot be read, or is not of the form of a file of priors.
    """
    return read_typed(Priors, text, name, EvidenceError)
