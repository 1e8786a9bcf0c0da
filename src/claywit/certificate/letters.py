"""Names that look like another name: letters of two alphabets in a word, or what is not seen.

A name of one alphabet throughout cannot be told from its look-alike without knowing which is
meant; only the key tells who signed. What is found here is what no honest name needs
(in the manner of the single-script profile of Unicode Technical Standard 39).
"""

import unicodedata
from collections.abc import Iterator, Mapping
from typing import Any

# Alphabets whose letters look alike; by the first word of a letter's name in Unicode.
ALIKE = {
    "LATIN",
    "GREEK",
    "CYRILLIC",
    "ARMENIAN",
    "CHEROKEE",
    "COPTIC",
    "FULLWIDTH",
    "MATHEMATICAL",
}
BLANK = "\u115f\u1160\u3164\uffa0\u2800"  # letters and signs that show nothing
JOINERS = "\u200c\u200d"  # needed in the spelling of some scripts, by none of `ALIKE`
ONE_SHAPE = str.maketrans("01i|5", "ollls")
UNSEEN = {"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"}


def strange_names(piece: str, examiner: str, engagement: Any) -> Iterator[tuple[str, str]]:
    """Yield each name of a certificate that looks like another, by whose it is, and why.

    *engagement* is that of an evidence file as plain data, of whatever form.
    """
    said = engagement if isinstance(engagement, Mapping) else {}
    users = said.get("intended_users")
    named = [("piece", piece), ("examiner", examiner), ("client", said.get("client"))]
    named += [("intended user", name) for name in (users if isinstance(users, list) else ())]
    for what, name in named:
        strange = strange_letters(name) if isinstance(name, str) else ""
        if strange:
            yield what, strange


def strange_letters(name: str) -> str:
    """Return what makes *name* look like another, in words; nothing if it is plain."""
    letter = ""
    for character in name:
        joins = character in JOINERS and letter and not _alphabet(letter)
        unseen = unicodedata.category(character) in UNSEEN or character in BLANK
        if unseen and not joins:
            return f"it holds U+{ord(character):04X}, which is not seen"
        letter = character if character.isalpha() else letter
    for word in "".join(c if c.isalpha() else " " for c in name).split():
        found = sorted({_alphabet(character).title() for character in word} - {""})
        if len(found) > 1:
            return f"{word[:40]!a} mixes letters of {' and '.join(found)}"
    return ""


def resembles(name: str, known: str) -> bool:
    """Return whether *name* can be read as *known*, though it is another.

    Case, marks between letters and accents are passed over, and what looks alike in many
    typefaces is taken as one: 0 and o, 1, I and l, 5 and s, rn and m.
    """
    return name != known and _read(name) == _read(known)


def _read(name: str) -> str:
    plain = unicodedata.normalize("NFKD", name).casefold().translate(ONE_SHAPE)
    return "".join(c for c in plain if c.isalnum()).replace("rn", "m")


def _alphabet(character: str) -> str:
    first = unicodedata.name(character, "").partition(" ")[0]
    return first if first in ALIKE else ""
