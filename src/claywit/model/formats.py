"""Which version of a file format is read: what is said of any other."""

import re
from typing import Any, get_args

from claywit import __version__
from claywit.model.values import Value


class OtherFormat(ValueError):  # noqa: N818 - it names the state of affairs
    """Data of another format, or of a version that is not read."""


def format_of(kind: type[Value]) -> str:
    """Return the one `format` that files of this *kind* have, none where they have no such key."""
    field = kind.model_fields.get("format")
    return str(get_args(field.annotation)[0]) if field and get_args(field.annotation) else ""


def format_said(found: Any, expected: str) -> str:
    """Return what is wrong with the `format` that was *found*, and the way out."""
    if not isinstance(found, str):
        return f"the key format is missing; it says which format the file has: format: {expected}"
    stem, _, number = expected.rpartition("/")
    other = re.fullmatch(r"(claywit-[a-z-]{1,40})/(\d{1,4})", found)
    if other is None:
        return f"format: found {found[:60]!a}, expected {expected}"
    if other[1] != stem:
        return f"format: this is a {found} file, where a {expected} file is expected"
    if int(other[2]) > int(number):
        return (
            f"format: {found} is newer than this claywit ({__version__}), which reads {expected};"
            " open it with a newer claywit"
        )
    return f"format: {found} was never in use; claywit {__version__} reads {expected}"


def refuse_format(data: Any, kind: type[Value]) -> None:
    """Refuse JSON data that is not of the version that is read.

    Raises:
        OtherFormat: as said; with what was found, and the way out.
    """
    found = data.get("format") if isinstance(data, dict) else None
    if found != format_of(kind):
        raise OtherFormat(format_said(found, format_of(kind)))
