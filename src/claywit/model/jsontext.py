"""JSON read strictly: a key once in an object, numbers that are numbers, text that is text."""

import json
from typing import Any

LONGEST = 400  # characters of a number; the largest that a program can hold has 309 digits


def read_json(text: str) -> Any:
    """Return the data that *text* holds.

    Raises:
        ValueError: what is wrong, in words that say no place: a repeated key, a number that is
            none or too long, half a character (a lone surrogate), nested too deep.
        json.JSONDecodeError: a ValueError that knows the place: it is no JSON.
    """
    try:
        data = json.loads(
            text, object_pairs_hook=_once, parse_int=_whole, parse_float=_decimal,
            parse_constant=_no_constant,
        )  # fmt: skip
        if "\\u" in text:
            json.dumps(data, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        raise ValueError("holds half a character (a lone surrogate); save it anew") from None
    except RecursionError:
        raise ValueError("nested too deep") from None
    return data


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise ValueError(f"key {key[:60]} stands twice in one object; keep one")
        found[key] = value
    return found


def _whole(text: str) -> int:
    if len(text) > LONGEST:
        raise ValueError(f"a number of {len(text):,} digits; at most {LONGEST} are read")
    return int(text)


def _decimal(text: str) -> float:
    value = float(text)
    if value in (float("inf"), float("-inf")):
        raise ValueError(f"the number {text[:40]} is larger than any that can be held")
    return value


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is no number; write one, or leave it out")
