"""Measured values: a number, its unit, and nothing guessed."""

import re
from dataclasses import dataclass

from claywit.model.values import number


@dataclass(frozen=True)
class Unit:
    """A unit: what kind of thing it measures, and its size in that kind's base unit."""

    kind: str
    size: float


UNITS: dict[str, Unit] = {
    "mm": Unit("length", 1.0),
    "cm": Unit("length", 10.0),
    "m": Unit("length", 1000.0),
    "um": Unit("length", 0.001),
    "µm": Unit("length", 0.001),
    "in": Unit("length", 25.4),
    "g": Unit("mass", 1.0),
    "kg": Unit("mass", 1000.0),
    "mg": Unit("mass", 0.001),
    "deg": Unit("angle", 1.0),
    "1": Unit("ratio", 1.0),
    "percent": Unit("ratio", 0.01),
    "permille": Unit("ratio", 0.001),
    "%": Unit("ratio", 0.01),
    "‰": Unit("ratio", 0.001),
}
LEAST, MOST = 1e-9, 1e9  # of anything that is measured, in the unit of its node
QUANTITY = re.compile(r"([+-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*(\S*)")
IN_ONE = re.compile(r"([\d.]{1,40})\s*([^\d\s±+]{0,9})\s*(?:±|\+/?-)\s*([\d.]{1,40})\s*(\S{0,9})")


def quantity(text: str, unit: str) -> float:
    """Return the number that *text* states, converted to *unit*.

    Raises:
        ValueError: no number, no unit, an unknown unit or one of another kind, or a
            decimal comma.
    """
    if "±" in text or "+-" in text or "+/-" in text:
        raise ValueError(f"'{text}': write the uncertainty apart: {_apart(text, unit)}")
    found = QUANTITY.fullmatch(text.strip())
    if not found:
        raise ValueError(f"'{text}' is not a measure; write a number and a unit: 43.5 {unit}")
    value = number(found[1])
    given = found[2].replace("\u03bc", "µ")  # a Greek letter that looks like the micro sign
    if not given:
        raise ValueError(f"'{text}' has no unit; write {found[1]} {unit} if it is in {unit}")
    if given not in UNITS:
        alike = ", ".join(name for name, one in UNITS.items() if one.kind == UNITS[unit].kind)
        raise ValueError(f"'{text}': unit {given} is not known; one of {alike} is expected")
    if UNITS[given].kind != UNITS[unit].kind:
        raise ValueError(f"'{text}' is a {UNITS[given].kind}; expected a value in {unit}")
    converted = value if given == unit else value * (UNITS[given].size / UNITS[unit].size)
    if converted != 0 and not LEAST <= abs(converted) <= MOST:
        raise ValueError(f"'{text}' is no size of a piece; check the number and its unit")
    return converted


def _apart(text: str, unit: str) -> str:
    """Return the mapping that says what "6.1 ± 0.1 mm" means, or an example of one."""
    found = IN_ONE.fullmatch(text.strip())
    value, before, u, after = found.groups() if found else ("43.5", unit, "0.1", unit)
    units = [name for name in (before, after) if name]
    if not set(units) <= set(UNITS):
        units = []
    first, last = (units[0], units[-1]) if units else (unit, unit)
    return f"{{value: {value} {first}, u: {u} {last}}}"
