"""Dates as people write them."""


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
