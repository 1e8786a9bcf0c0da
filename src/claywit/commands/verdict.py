"""A verdict on a certificate, printed for a person."""

import re
import shutil
import textwrap
from collections.abc import Iterator

from claywit.certificate.verify import Check, Verdict

MARKS = {"passed": "yes", "failed": "NO", "not checked": "?"}
NAMED = 20
# A signed file may hold anything: what could steer a terminal is shown as a box.
# The joiners U+200C and U+200D, which some scripts are spelled with, are left.
_STEERS = re.compile(
    r"[\x00-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff\U000e0000-\U000e007f]"
)


def as_text(verdict: Verdict) -> str:
    """Return the verdict for a terminal: the answer first, then what was looked at."""
    width = min(shutil.get_terminal_size((100, 24)).columns, 100)
    return "\n".join(line for part in _parts(verdict) for line in _wrapped(part, width))


def _parts(verdict: Verdict) -> Iterator[tuple[str, str]]:
    """Yield each line with the indent of the lines that follow it."""
    yield "", verdict.answer
    value = verdict.certificate
    if value:
        yield "", f"{value.trace.piece}, {value.id}"
        yield "", ""
        yield "  ", f"  {value.trace.report['statement'][0]}"
    yield "", ""
    for check in verdict.checks:
        yield " " * (NAMED + 6), _line(check)
    yield "", ""
    for note in verdict.notes:
        yield "", note


def _line(check: Check) -> str:
    return f"{MARKS[check.state]:>4}  {check.name:<{NAMED}}{check.sentence}"


def _wrapped(part: tuple[str, str], width: int) -> list[str]:
    indent, text = part
    clean = _STEERS.sub("\N{WHITE SQUARE}", text)
    return textwrap.wrap(clean, width, subsequent_indent=indent, break_long_words=False,
                         break_on_hyphens=False) or [""]  # fmt: skip
