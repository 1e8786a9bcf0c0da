"""The kinds of number that a report holds."""

from typing import Annotated

from pydantic import ConfigDict, Field

from claywit.model.values import Value

Decimal = Annotated[str, Field(pattern=r"^(0|[0-9]\.[0-9]+(e[+-][0-9]+)?|0\.[0-9]+)$")]
Shares = dict[str, dict[str, Decimal]]
Range = tuple[Decimal, Decimal]  # of a probability, from low to high
Span = tuple[float, float]  # of a weight in bans, from low to high


class Named(Value):
    """A value whose fields may be given by name or by the name they have in JSON."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)
