"""The day that an option of a command names."""

from datetime import UTC, date, datetime

from claywit.errors import ClaywitError


def day_of(text: str, option: str = "--date") -> date:
    """Return the day that *option* names, today where it names none.

    Raises:
        ClaywitError: it is no day.
    """
    if not text:
        return datetime.now(UTC).date()
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ClaywitError(f"{option} {text}: no day; write it as 2026-01-30") from None
