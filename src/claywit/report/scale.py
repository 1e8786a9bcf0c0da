"""Verbal scales: words for likelihood ratios, never without the number and the cut-points."""

from typing import Annotated, Literal

from pydantic import BeforeValidator

from claywit.errors import ModelError
from claywit.model.typed import read_typed
from claywit.model.values import Positive, Text, Value


def _no_limit(value: object) -> object:
    return None if value in ("", "null", None) else value


Limit = Annotated[Positive | None, BeforeValidator(_no_limit)]


class Scale(Value):
    """A verbal scale; each band holds ratios up to and including its limit."""

    format: Literal["claywit-scale/1"]
    id: Text
    source: Text
    grade: Text
    none: Text
    bands: dict[str, Limit]


def read_scale(text: bytes, name: str) -> Scale:
    """Return the scale that *text* holds.

    Raises:
        ModelError: it cannot be read, or is not of the form of a scale.
    """
    return read_typed(Scale, text, name, ModelError)[0]


def term(ratio: float, scale: Scale) -> str:
    """Return the scale's word for a likelihood ratio of 1 or more; an edge is the lower band's."""
    if ratio <= 1:
        return scale.none
    for word, limit in scale.bands.items():
        if limit is None or ratio <= limit:
            return word
    return list(scale.bands)[-1]
