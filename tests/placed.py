"""Texts held place by place against the plain data behind them.

A place is what must stand beside a number: the words of a sentence, or the heading and the label of
a row and the cells before it. So a number is bound to the one field that it comes from, and a wrong
digit is a number without a place even where some other field happens to hold that number.
"""

import re
from dataclasses import dataclass

# A number begins where no letter or digit stands before it: `C1` is a word.
NUMBER = re.compile(r"(?<![\w.])\d+(?:,\d{3})*(?:\.\d+)?(?:e[+-]?\d+)?")
DRAWN = str.maketrans("", "", "█▌░│·")


def squeezed(text):
    """Return a text on one line, without what is drawn in it."""
    return " ".join(text.translate(DRAWN).split())


@dataclass(frozen=True)
class Said:
    """Words that stand in a text as they are."""

    words: str

    def at(self, text, start):
        """Return where these words end if they stand at *start*, and None if they do not."""
        end = start + len(self.words)
        return end if text.startswith(self.words, start) and _apart(text, start, end) else None

    def spans(self, text):
        yield from _each(text, self.words, self.at)


@dataclass(frozen=True)
class Row:
    """A label and its figures; a label that is broken over lines has its figures in between."""

    label: str
    figures: str

    def at(self, text, start):
        words = self.label.split()
        for k in range(len(words), -1, -1):
            said = " ".join([*words[:k], *self.figures.split(), *words[k:]])
            end = start + len(said)
            if text.startswith(said, start) and _apart(text, start, end):
                return end
        return None

    def spans(self, text):
        first = (self.label or self.figures).split()[0]
        yield from _each(text, first, self.at)


@dataclass(frozen=True)
class Table:
    """Rows one below the other under a heading; one that is not as it should be ends the table."""

    head: str
    rows: tuple

    def spans(self, text):
        for start, end in Said(self.head).spans(text):
            yield start, end
            here = end
            for row in self.rows:
                there = row.at(text, here + 1)
                if there is None:
                    break
                yield here + 1, there
                here = there


def _each(text, first, at):
    start = text.find(first)
    while start >= 0:
        end = at(text, start)
        if end is not None:
            yield start, end
        start = text.find(first, start + 1)


def _apart(text, start, end):
    """Return whether no number or word goes on beyond what stands from *start* to *end*."""
    return not re.match(r"\w", text[end : end + 1]) and not (
        re.search(r"[\w.,]$", text[max(0, start - 1) : start])
        or (text[end - 1].isdigit() and re.match(r"%|[.,]\d", text[end : end + 2]))
    )


def row(label, *figures):
    """Return the place of a row: its label, and its figures without those that are empty."""
    return Row(squeezed(label), squeezed(" ".join(figures)))


def said(*phrases):
    return [Said(squeezed(phrase)) for phrase in phrases if phrase.strip()]


def numbers_of(text):
    """Return the numbers of a text, as they are printed."""
    return NUMBER.findall(squeezed(text))


def unplaced(text, places):
    """Return the numbers of a text that stand in none of the places, each with what is before it."""
    text = squeezed(text)
    held = bytearray(len(text))
    for place in places:
        for start, end in place.spans(text):
            held[start:end] = b"\1" * (end - start)
    return [
        text[max(0, m.start() - 60) : m.end()]
        for m in NUMBER.finditer(text)
        if not all(held[m.start() : m.end()])
    ]


def altered(rng, text):
    """Return a text with one digit of one of its numbers changed, and None if it has none."""
    text = squeezed(text)
    places = list(NUMBER.finditer(text))
    if not places:
        return None
    match = places[rng.integers(len(places))]
    digits = [match.start() + i for i, c in enumerate(match[0]) if c.isdigit()]
    at = int(rng.choice(digits))
    other = rng.choice([d for d in "0123456789" if d != text[at]])
    return f"{text[:at]}{other}{text[at + 1 :]}"


def percent(p):
    """Return a probability as a reader sees it."""
    shown = f"{100 * float(p):.1f}"
    return {"0.0": "below 0.1%", "100.0": "above 99.9%"}.get(shown, f"{shown}%")


def plain(value, digits):
    """Return a number at so many decimals, with the sign of print; `–` for none."""
    if value is None:
        return "–"
    return f"{round(value, digits) + 0.0:.{digits}f}".replace("-", "−")


def signed(value, without="–"):
    """Return a weight in bans as a reader sees it."""
    if value is None:
        return without
    return "≈ 0" if abs(value) < 0.005 else f"{value:+.2f}".replace("-", "−")


def counted(count, what="piece"):
    return f"{count:,} {what}{'' if count == 1 else 's'}"


def odds(ratio, most):
    """Return odds in words."""
    larger = max(ratio, 1 / ratio)
    if larger > most:
        return f"more than {most:,} to 1" if ratio > 1 else f"less than 1 to {most:,}"
    digits = f"{float(f'{larger:.2g}'):,.12g}"
    if digits == "1":
        return "even"
    return f"{digits} to 1" if ratio > 1 else f"1 to {digits}"


def scales(ends):
    """Yield the odds that may stand beside a picture of these bans: whole bans at equal steps."""
    low, high = int(min(*ends, 0)) - 2, int(max(*ends, 0)) + 2
    step = 1
    while step < 64:
        for first in range(low, low + 2 * step + 4):
            ticks = [k for k in range(first, high + 1) if k % step == 0]
            for last in range(max(0, len(ticks) - 4), len(ticks) + 1):
                yield " ".join(map(_tick, ticks[:last]))
        step += 1


def _tick(bans):
    if bans == 0:
        return "even"
    raised = str(abs(bans)).translate(str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹"))
    times = f"{10 ** abs(bans):,}" if abs(bans) <= 4 else f"10{raised}"
    return f"{times} : 1" if bans > 0 else f"1 : {times}"
