"""What a node's numbers look like: rows, noisy gates, densities, shared shrinkage."""

from math import fsum
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from claywit.model.values import (
    Given,
    Name,
    Number,
    Positive,
    Shares,
    StateName,
    Text,
    Value,
)

TOLERANCE = 1e-6


class Normal(Value):
    """A normal density, in the unit of the measure."""

    mean: Number
    sd: Positive


class StudentT(Value):
    """A Student-t density; *scale* is not its standard deviation."""

    location: Number
    scale: Positive
    df: Positive


class LogNormal(Value):
    """A log-normal density; *log_sd* is on the natural logarithm."""

    median: Positive
    log_sd: Positive


class Row(Value):
    """What is known of a node under some states of its parents, and on what it rests."""

    given: Given = {}
    p: Shares | None = None
    normal: Normal | None = None
    student_t: StudentT | None = None
    log_normal: LogNormal | None = None
    source: Text = ""
    n: Positive | None = None
    note: Text = ""

    @model_validator(mode="after")
    def _says_one_thing(self) -> Self:
        stated = [k for k in ("p", "normal", "student_t", "log_normal") if getattr(self, k)]
        if len(stated) != 1:
            found = " and ".join(stated) or "none"
            raise ValueError(f"found {found}; write one of p, normal, student_t, log_normal")
        if self.p:
            total = fsum(self.p.values())
            if abs(total - 1) > TOLERANCE:
                raise ValueError(f"{' + '.join(self.p)} = {total:.6g}, must be 1")
        return self

    @property
    def density(self) -> Normal | StudentT | LogNormal | None:
        """Return the density of a measured leaf's row, if it is one."""
        return self.normal or self.student_t or self.log_normal


class Cause(Value):
    """What one state of one parent proposes, apart from all other causes.

    *p* names the raised levels only; what is left is the lowest level.
    """

    given: Given = {}
    p: Shares
    source: Text = ""
    n: Positive | None = None
    note: Text = ""

    @model_validator(mode="after")
    def _leaves_room(self) -> Self:
        total = fsum(self.p.values())
        if total > 1 + TOLERANCE:
            raise ValueError(f"{' + '.join(self.p)} = {total:.6g}, must not pass 1")
        return self


class Noisy(Value):
    """A leaky noisy-MAX: each cause proposes a level and the node takes the highest.

    Source: Henrion (1989) for the leak, Diez (1993) for the MAX (both from memory).
    """

    leak: Cause
    causes: tuple[Cause, ...] = ()


class Visibility(Value):
    """With which probability the trait is hidden, by the state of an obstruction node."""

    parent: Name
    p: Shares
    source: Text = ""
    n: Positive | None = None


class MeanSd(Value):
    """A mean and a standard deviation."""

    mean: Number
    sd: Positive


class Unfiled(Value):
    """The sizes of what is not in the file: each dimension, and how they go together."""

    dimensions: dict[Name, MeanSd]
    correlation: Annotated[Number, Field(gt=-1, lt=1)] = 0.0
    tails: Positive | Literal["normal"] = "normal"
    includes_u: bool = False  # its sd is that of measured values

    @model_validator(mode="before")
    @classmethod
    def _gathers_dimensions(cls, value: object) -> object:
        if not isinstance(value, dict) or "dimensions" in value:
            return value
        own = {k: v for k, v in value.items() if k in ("correlation", "tails", "includes_u")}
        return {**own, "dimensions": {k: v for k, v in value.items() if k not in own}}


class Dimensions(Value):
    """Sizes that shrink together: value = cavity x (1 - shrinkage), one shrinkage a piece."""

    cavity: dict[StateName, dict[Name, Positive]]
    unfiled: dict[StateName, Unfiled] = {}
    shrinkage: dict[StateName, MeanSd]
    tails: Positive | Literal["normal"] = 4.0
    source: Text = ""
    n: Positive | None = None
