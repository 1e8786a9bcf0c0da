"""The day that an option of a command names."""

from datetime import UTC, date, datetime

from claywit.errors import ClaywitError


def day_of(text: str) -> date:
    """Return the day that `--date` names, today where it names none.

    Raises:
        ClaywitError: it is no day.
    """
    if not text:
        return datetime.now(UTC).date()
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ClaywitError(f"--date {text}: no day; write it as 2026-01-30") from None
