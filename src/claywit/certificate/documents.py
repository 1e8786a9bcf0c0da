"""A certificate as people read it: a page for the screen, a document for paper."""

import io
from dataclasses import dataclass
from functools import cache

import segno
from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from claywit.certificate.face import face
from claywit.certificate.issue import Issued


@dataclass(frozen=True)
class Documents:
    """The documents that were asked for, as the bytes of their files."""

    html: bytes | None = None
    pdf: bytes | None = None


def documents(made: Issued, *, html: bool, pdf: bool) -> Documents:
    """Return the certificate *made* in the forms asked for; both say the same.

    Raises:
        CertificateError: no font at hand has a character that the document needs.
    """
    if not (html or pdf):
        return Documents()
    shown, code = face(made), qr_code(made)
    paper = None
    if pdf:
        from claywit.certificate.paper import paper as on_paper

        paper = on_paper(shown, code, made)
    return Documents(page(shown, code) if html else None, paper)


def page(shown: dict[str, object], code: str) -> bytes:
    """Return the certificate as a self-contained page: no script, no request."""
    return _template().render(**shown, code=code).encode("utf-8")


def qr_code(made: Issued) -> str:
    """Return a QR code of the identifier and the digest, as SVG."""
    code = segno.make(f"{made.id} sha256:{made.digest}", error="m", micro=False)
    drawn = io.BytesIO()
    code.save(
        drawn, kind="svg", border=2, xmldecl=False, omitsize=True, svgclass=None, lineclass=None
    )
    return drawn.getvalue().decode("utf-8")


@cache
def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("claywit.certificate"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("certificate.html.j2")
