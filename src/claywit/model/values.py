"""The kinds of value that every file of claywit is made of."""

import math
import re
import sys
from collections.abc import Mapping, Sequence
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

_NUMBER = re.compile(
    r"(?=[+-]?\.?\d)[+-]?(?:0|[1-9]\d*)?(?:(?<=\d)\.\d*|\.\d+)?(?:[eE][+-]?\d{1,3})?",
    re.ASCII,  # other scripts have digits too, which a reader may not see as such
)
NAME = r"^[A-Za-z][A-Za-z0-9_]*$"
STATE = r"^[A-Za-z0-9][A-Za-z0-9_.+-]*$"
DASHED = r"^[a-z][a-z0-9-]*$"
VERSION = r"^[0-9]{1,9}\.[0-9]{1,9}\.[0-9]{1,9}$"


class Value(BaseModel):
    """A frozen value that refuses keys it does not know."""

    # Built when first used: a command uses few of all the schemas that it imports.
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


def is_number(text: str) -> bool:
    """Return whether *text* is a plain decimal number, however large."""
    return _NUMBER.fullmatch(text) is not None


def number(value: object) -> float:
    """Return a finite number from a YAML scalar or a JSON number.

    YAML scalars arrive as text, so that nothing is guessed: no octal, no `.nan`, no
    decimal comma, no `1_000`.

    Raises:
        ValueError: the text is not a plain decimal number, or it is not finite.
    """
    if isinstance(value, int | float) and not isinstance(value, bool):
        found = float(value) if abs(value) <= sys.float_info.max else math.inf
    elif isinstance(value, str) and is_number(value):
        found = float(value)
    elif isinstance(value, str) and re.fullmatch(r"[+-]?\d+,\d+", value):
        raise ValueError(
            f"'{value}' has a decimal comma; write {value.replace(',', '.')} with a point"
        )
    elif isinstance(value, str) and is_number(value.removesuffix("%").rstrip()):
        raise ValueError(f"{_shown(value)} has a percent sign; write the number alone")
    elif value == "":
        raise ValueError("no number here; inside { } write a decimal with a point, as 0.5")
    else:
        raise ValueError(f"{_shown(value)} is not a plain decimal number such as 0.25")
    if not math.isfinite(found):
        raise ValueError(f"{_shown(value)} is too large for a number")
    return found


def _shown(value: object) -> str:
    """Return the value as a message names it: text in quotes, cut short, or what it is."""
    if isinstance(value, str):
        return f"'{value[:60]}'"
    if isinstance(value, Mapping | Sequence):
        return "a mapping" if isinstance(value, Mapping) else "a list"
    return str(value)[:60]


def _probability(value: object) -> float:
    """Return a number, or refuse a percentage with the share that is meant."""
    part = value.removesuffix("%").rstrip() if isinstance(value, str) else ""
    if part != value and is_number(part):
        share = f"{float(part) / 100:.12g}"
        raise ValueError(f"{_shown(value)} is a percentage; write it as a share, {share}")
    return number(value)


def _one_or_many(value: object) -> object:
    return [value] if isinstance(value, str) else value


def named(value: object) -> object:
    """Return a list of values with a `name` each from a mapping of name to value.

    The order of names carries meaning (levels of a noisy-MAX, the order in which groups
    are weighed), and canonical JSON sorts the keys of a mapping; so the checked value
    keeps a list, which a digest covers in its order.
    """
    if not isinstance(value, Mapping):
        return value
    entries: list[object] = []
    for name, entry in value.items():
        if entry is None or entry == "":
            entries.append({"name": name})
        elif isinstance(entry, Mapping):
            if entry.get("name", name) != name:
                raise ValueError(f"{name} is called {entry['name']} inside; keep one name")
            entries.append({**entry, "name": name})
        else:
            entries.append(entry)
    return entries


def names_or_named(value: object) -> object:
    """Do as `named`, and take a plain list of names too."""
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [{"name": entry} if isinstance(entry, str) else entry for entry in value]
    return named(value)


def duplicates(names: Sequence[str]) -> list[str]:
    """Return the names that stand more than once, in order."""
    seen: set[str] = set()
    twice = []
    for name in names:
        if name in seen:
            twice.append(name)
        seen.add(name)
    return twice


Number = Annotated[float, BeforeValidator(number, json_schema_input_type=float | str)]
Positive = Annotated[Number, Field(gt=0)]
Probability = Annotated[
    float,
    BeforeValidator(_probability, json_schema_input_type=float | str),
    Field(ge=0, le=1),
]
Name = Annotated[str, Field(pattern=NAME, max_length=80)]
StateName = Annotated[str, Field(pattern=STATE, max_length=80)]
Text = Annotated[str, Field(max_length=4000)]
StateNames = Annotated[
    tuple[StateName, ...],
    BeforeValidator(_one_or_many, json_schema_input_type=str | list[str]),
    Field(min_length=1),
]
Given = dict[Name, StateNames]
Shares = dict[StateName, Probability]
