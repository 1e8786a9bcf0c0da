"""A certificate on paper: PDF/A-3 with the signed file attached, through Typst.

Everything that comes from a user goes to Typst as JSON data, never as source. The fonts that
Typst brings hold Latin, Greek and Cyrillic; other scripts come from installed fonts.
"""

import json
import re
from datetime import datetime
from importlib.resources import files
from typing import Any, Literal

from claywit.certificate.issue import Issued
from claywit.errors import CertificateError

WHOLE = ("id", "digest", "issuer", "made_with")  # copied from the page, and given room there
LONGEST_WORD = 24
_LONG = re.compile(rf"\S{{{LONGEST_WORD}}}(?=\S)")
STANDARD: Literal["a-3a"] = "a-3a"  # tagged, so that it can be read aloud
# Where a script is likely to be found on Debian and its kin, by the first code point of a range.
PACKAGES = (
    (0x0590, 0x08FF, "fonts-noto-core"),
    (0x0900, 0x1CFF, "fonts-noto-core"),
    (0x2E80, 0x9FFF, "fonts-noto-cjk"),
    (0xAC00, 0xD7AF, "fonts-noto-cjk"),
    (0xF900, 0xFAFF, "fonts-noto-cjk"),
    (0xFB1D, 0xFEFF, "fonts-noto-core"),
    (0x1F000, 0x1FAFF, "fonts-noto-color-emoji"),
    (0x20000, 0x3FFFF, "fonts-noto-cjk"),
)
OTHERWISE = "fonts-unifont"


def paper(shown: dict[str, Any], code: str, made: Issued) -> bytes:
    """Return the document as PDF/A-3; the same certificate always gives the same bytes.

    Raises:
        CertificateError: no font at hand has a character that it needs; all are named.
    """
    import typst

    source = (files("claywit.certificate") / "templates" / "certificate.typ").read_bytes()
    inputs = {
        "shown": json.dumps(
            {k: v if k in WHOLE else breakable(v) for k, v in shown.items()}, ensure_ascii=False
        ),
        "code": code,
        "certificate": made.text.decode("utf-8"),
    }
    try:
        found = _compiled(source, inputs, made.certificate.validFrom)
    except typst.TypstError as wrong:
        lacking = missing_characters(inputs["shown"])
        if not lacking:
            raise
        raise CertificateError(_no_font(lacking)) from wrong
    return found


def breakable(value: Any) -> Any:
    """Return *value* with places to break in its long words, which would leave a column else."""
    if isinstance(value, str):
        return _LONG.sub("\\g<0>\u200b", value)
    if isinstance(value, dict):
        return {key: breakable(part) for key, part in value.items()}
    return [breakable(part) for part in value] if isinstance(value, list) else value


def _compiled(source: bytes, inputs: dict[str, str], signed: str) -> bytes:
    import typst

    at = datetime.fromisoformat(signed)
    found = typst.Compiler(input=source, sys_inputs=inputs).compile(
        format="pdf", pdf_standards=[STANDARD], timestamp=int(at.timestamp())
    )
    if not isinstance(found, bytes):
        raise TypeError("one document was asked for")  # our bug
    return found


def missing_characters(text: str) -> list[str]:
    """Return the characters of *text* that no font at hand can show, in order."""
    import typst

    probe = b'#set text(font: ("Libertinus Serif",))\n#sys.inputs.at("text")'
    compiler = typst.Compiler(input=probe, sys_inputs={"text": ""})

    def shows(characters: list[str]) -> bool:
        try:
            # Apart: a mark on its own has no glyph, and is no missing one.
            compiler.compile(
                sys_inputs={"text": " ".join(characters)}, format="pdf", pdf_standards=[STANDARD]
            )
        except typst.TypstError:
            return False
        return True

    strange = [c for c in dict.fromkeys(text) if ord(c) > 0x7E]
    return _narrowed(strange, shows)


def _narrowed(characters: list[str], shows: Any) -> list[str]:
    """Return those of *characters* that cannot be shown, by halves."""
    if not characters or shows(characters):
        return []
    if len(characters) == 1:
        return characters
    half = len(characters) // 2
    return _narrowed(characters[:half], shows) + _narrowed(characters[half:], shows)


def _no_font(lacking: list[str]) -> str:
    named = ", ".join(f"{c} (U+{ord(c):04X})" for c in lacking[:20])
    more = f" and {len(lacking) - 20} more" if len(lacking) > 20 else ""
    packages = " ".join(dict.fromkeys(_package(ord(c)) for c in lacking))
    return (
        f"no font here has {named}{more}, so the document would have gaps; nothing was written;"
        f" on Debian run `apt install {packages}`, or write that text in letters you have"
    )


def _package(point: int) -> str:
    return next((name for low, high, name in PACKAGES if low <= point <= high), OTHERWISE)
