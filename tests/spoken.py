"""Texts held against the plain data behind them: each number that is printed, and each word.

A text is cut into sections, and a number of a section must be one of the few that the fields
behind that section give, in the form that a field of that kind has: a probability as a percentage,
a weight as bans. So a wrong digit is a number that no field gives.
"""

import html
import re

NUMBER = re.compile(r"[<>]?[+−-]?\d+(?:,\d{3})*(?:\.\d+)?(?:e[+-]?\d+)?%?")
# What stands beside numbers of the data: the share of an interval, limits of what is shown, and
# the numbers in explanations of how to read a table.
SAID = {
    "SHA-256": "",
    "no prior of it above 0.1%": "",
    "below 0.1%": "<0.1%",
    "above 99.9%": ">99.9%",
    "above 0.999": ">0.999",
}
FIXED = {"95%", "+1", "−1", "1", "<0.1%", ">99.9%", ">0.999"}
NEVER = re.compile(
    r"(?<![\d.,])(?:0|100)(?:\.0+)?\s?%|>\s?100|\bnan\b|\binf(?:inity)?\b|[−-]0(?:\.0*)?(?![\d.])"
    r"|\+0(?:\.0*)?(?![\d.])|\b(?:fake|forge[rd]?|forgery|fraud\w*|counterfeit\w*|deceit|deceiv\w*"
    r"|deliberate\w*|intent(?:ion)?s?|genuine|authentic)\b",
    re.IGNORECASE,
)


def never_said(text):
    """Return what stands in *text* that must never: certainty, no number, -0, a word for intent."""
    found = [*NEVER.finditer(text), *re.finditer(r"\bNone\b", text)]
    return [text[max(0, m.start() - 40) : m.end() + 10] for m in found]


def shown_of_page(page):
    """Return the text that a page shows, section by section, by the section's name."""
    body = re.sub(r"<style>.*?</style>|<title>.*?</title>", "", page, flags=re.DOTALL)
    parts = re.split(r'<section aria-labelledby="(\w+)">', body)
    named = zip(["head", *parts[1::2]], parts[::2], strict=True)
    return {name: html.unescape(re.sub(r"<[^>]+>", " ", part)) for name, part in named}


def numbers_in(text):
    """Return the numbers of *text* as they are printed; `below 0.1%` as `<0.1%`."""
    text = re.sub(r"\s+", " ", text)
    for said, short in SAID.items():
        text = text.replace(said, short)
    return NUMBER.findall(text)


class Held:
    """Every form in which the numbers of some plain data may be printed."""

    def __init__(self, *parts, names=()):
        self.forms = set(FIXED)
        for part in parts:
            self._gather("", part)
        for name in names:
            self.forms.update(numbers_in(name))

    def _gather(self, key, value):
        if isinstance(value, dict):
            for name, part in value.items():
                self.forms.update(numbers_in(name))
                self._gather(name if _says_kind(name) else key, part)
        elif isinstance(value, list | tuple):
            for part in value:
                self._gather(key, part)
        elif isinstance(value, str):
            self._gather_text(value)
        elif isinstance(value, int | float) and not isinstance(value, bool):
            self.forms.update(forms_of(key, value))

    def _gather_text(self, value):
        if re.fullmatch(r"0|[01]\.\d+(e[+-]\d+)?|\d\.\d+e-\d+", value):
            self.forms.add(percentage(float(value)))
        else:
            self.forms.update(numbers_in(value))

    def missing(self, text):
        """Return the numbers of *text* that none of the data gives."""
        return [one for one in numbers_in(text) if one not in self.forms]


def _says_kind(name):
    return name.endswith(("bans", "odds", "factor", "bits", "per_minute", "overturns", "rewords", "closes")) or (
        name in ("epsilon", "holds_to", "least", "minutes", "n", "draws", "seed", "pieces", "size",
                 "now", "then", "times", "numbers", "p_for", "p_against", "weight")
    )  # fmt: skip


def percentage(p):
    """Return a probability as a percentage with one decimal, as `numbers_in` finds it."""
    if p < 0.0005:
        return "<0.1%"
    return ">99.9%" if p >= 0.9995 else f"{100 * p:.1f}%"


def forms_of(key, value):
    """Return how a number may be printed, by the name of its field."""
    signed = f"{value:+.2f}".replace("-", "−")
    if key.endswith("bans"):
        return {signed, signed[1:]}
    if key.endswith(("odds", "factor")):
        return odds(value)
    if key.endswith(("bits", "per_minute")):
        return {f"{value:.2f}", f"{value:.1f}"}
    if key in ("overturns", "rewords", "closes", "p_for", "p_against"):
        return {percentage(value), percentage(1 - value), f"{value:.2g}", f"{value:.3g}"}
    if key in ("epsilon", "holds_to", "least"):
        return {percentage(value), f"{100 * value:.2g}%"}
    return {f"{value:g}", f"{value:,}", f"{value:,.0f}", f"{value:.3g}"}


def odds(value):
    """Return the numbers of `22 to 1` and `1 to 4.5`, or `1,000` where the words end."""
    if value <= 0:
        return set()
    ratio = max(value, 1 / value)
    return {"1,000"} if ratio > 1000 else {f"{float(f'{ratio:.2g}'):,.10g}", f"{ratio:.3g}"}
