"""Text in a cell of a spreadsheet: what would be run as a formula is made inert."""

_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


def inert(text: str) -> str:
    """Return *text* so that no spreadsheet runs it: an apostrophe goes before what it might.

    For text only; a number is written as a number, whatever its sign.
    """
    return f"'{text}" if text.startswith(_STARTS) else text


def plain(text: str) -> str:
    """Return what `inert` was given."""
    return text[1:] if text.startswith("'") and text[1:].startswith(_STARTS) else text
