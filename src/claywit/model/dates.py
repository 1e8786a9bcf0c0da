"""Dates as people write them, and as years."""

from math import inf


def period(date: str) -> str:
    """Return an EDTF interval as people write it: `1812–1846`, `from 1951`."""
    start, slash, end = (_year(part) for part in date.partition("/"))
    if not slash:
        return start
    if end in ("", ".."):
        return f"from {start}"
    return f"until {end}" if start in ("", "..") else f"{start}–{end}"


def _year(text: str) -> str:
    said = {"~": "about ", "?": "perhaps ", "%": "perhaps about "}.get(text[-1:], "")
    return said + text.rstrip("~?%")


def years(date: str) -> tuple[float, float]:
    """Return the first and the last year of an EDTF interval; infinite where it is open."""
    start, slash, end = (part.rstrip("~?%") for part in date.partition("/"))
    first = -inf if start == ".." else float(start)
    last = end if slash else start
    return first, inf if last in ("", "..") else float(last)
