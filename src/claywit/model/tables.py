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
SMALLEST = 1e-30  # below it a product of several rows could leave the range of a double

Size = Annotated[Number, Field(ge=-1e9, le=1e9)]
Spread = Annotated[Number, Field(ge=1e-9, le=1e9)]
# Student-t degrees of freedom: below 1 a mean makes no sense, above 1000 it is a normal.
Tails = Annotated[Number, Field(ge=1, le=1000)]
Counted = Annotated[Number, Field(ge=0)]


def _refuse_tiny(p: Shares) -> None:
    for state, share in p.items():
        if 0 < share < SMALLEST:
            raise ValueError(f"{state}: {share:g} is no judgement; write 0, or 1e-30 or more")


class Normal(Value):
    """A normal density, in the unit of the measure."""

    mean: Size
    sd: Spread


class StudentT(Value):
    """A Student-t density; *scale* is not its standard deviation."""

    location: Size
    scale: Spread
    df: Tails


class LogNormal(Value):
    """A log-normal density; *log_sd* is on the natural logarithm."""

    median: Spread
    log_sd: Spread


class Row(Value):
    """What is known of a node under some states of its parents, and on what it rests.

    counted: how many of the *n* pieces it is worth were counted, not elicited.
    """

    given: Given = {}
    p: Shares | None = None
    normal: Normal | None = None
    student_t: StudentT | None = None
    log_normal: LogNormal | None = None
    source: Text = ""
    n: Positive | None = None
    counted: Counted = 0.0
    note: Text = ""

    @model_validator(mode="after")
    def _says_one_thing(self) -> Self:
        stated = [k for k in ("p", "normal", "student_t", "log_normal") if getattr(self, k)]
        if len(stated) != 1:
            found = " and ".join(stated) or "none"
            raise ValueError(f"found {found}; write one of p, normal, student_t, log_normal")
        if self.p:
            _refuse_tiny(self.p)
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
    counted: Counted = 0.0
    note: Text = ""

    @model_validator(mode="after")
    def _leaves_room(self) -> Self:
        _refuse_tiny(self.p)
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
    counted: Counted = 0.0


class MeanSd(Value):
    """A mean and a standard deviation."""

    mean: Size
    sd: Spread


class Unfiled(Value):
    """The sizes of what is not in the file: each dimension, and how they go together."""

    dimensions: dict[Name, MeanSd]
    correlation: Annotated[Number, Field(gt=-1, lt=1)] = 0.0
    tails: Tails | Literal["normal"] = "normal"
    includes_u: bool = False  # its sd is that of measured values

    @model_validator(mode="before")
    @classmethod
    def _gathers_dimensions(cls, value: object) -> object:
        if not isinstance(value, dict) or "dimensions" in value:
            return value
        own = {k: v for k, v in value.items() if k in ("correlation", "tails", "includes_u")}
        return {**own, "dimensions": {k: v for k, v in value.items() if k not in own}}


class CountedSizes(Value):
    """How many pieces were counted for each cavity, shrinkage and open state, beyond n."""

    cavity: dict[StateName, Counted] = {}
    shrinkage: dict[StateName, Counted] = {}
    unfiled: dict[StateName, Counted] = {}


class Dimensions(Value):
    """Sizes that shrink together: value = cavity x (1 - shrinkage), one shrinkage a piece.

    n: how many elicited pieces each of its numbers is worth, before those *counted*.
    """

    cavity: dict[StateName, dict[Name, Spread]]
    unfiled: dict[StateName, Unfiled] = {}
    shrinkage: dict[StateName, MeanSd]
    tails: Tails | Literal["normal"] = 4.0
    source: Text = ""
    n: Positive | None = None
    counted: CountedSizes = CountedSizes()

    def worth(self, kind: Literal["cavity", "shrinkage", "unfiled"]) -> tuple[float, ...]:
        """Return the pieces, elicited and counted, behind each state of one kind, in order."""
        counted: dict[str, float] = getattr(self.counted, kind)
        return tuple((self.n or 0.0) + counted.get(state, 0.0) for state in getattr(self, kind))
