"""A casebook for tests: a clock that is set, a seed in sight, and cases of the small model."""

from datetime import UTC, datetime, timedelta
from random import Random

from small import SHOPS, model

from claywit.records import casebook, opening, opinions
from claywit.records.files import read_standards
from claywit.records.intake import read_intake

START = datetime(2026, 1, 10, 9, tzinfo=UTC)


def at(minutes):
    return START + timedelta(minutes=minutes)


def seeded(seed):
    return Random(seed)  # noqa: S311 - a seed in sight, for a test


def form(piece="p-1", story="found in a boat locker", price="40", more=""):
    text = (
        f"format: claywit-intake/1\npiece: {{id: {piece}, type: tile}}\n"
        f"sealed: {{story: '{story}', price: '{price}'}}\n{more}"
    )
    return read_intake(text.encode(), "form.yaml")[0]


def evidence(piece="p-1", findings="{rim: bevelled}", more="", examiner="A"):
    return (
        f"format: claywit-evidence/1\npiece: {{id: {piece}}}\nexaminer: {examiner}\n"
        f"findings: {findings}\n{more}\n"
    ).encode()


def new(path):
    """Return a new casebook, open for writing."""
    opening.begin(path, START, seeded(1))
    return opening.opened(path, write=True)


def open_case(kept, piece="p-1", *, minutes=1, findings="{rim: bevelled}", **sealed):
    """Take in a piece and lock its readings."""
    casebook.intake(kept, form(piece, **sealed), at(minutes), seeded(2))
    written = evidence(piece, findings)
    return casebook.lock(kept, piece, written, at(minutes + 1), name="e.yaml")


def opine(kept, piece="p-1", *, minutes=5, text=SHOPS, asked=None):
    return opinions.opine(kept, piece, model(text), read_standards(), at(minutes), asked=asked)
