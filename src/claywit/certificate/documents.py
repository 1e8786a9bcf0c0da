"""A certificate as people read it: a page for the screen, a document for paper."""

from dataclasses import dataclass

from claywit.certificate.issue import Issued


@dataclass(frozen=True)
class Documents:
    """The documents that were asked for, as the bytes of their files."""

    html: bytes | None = None
    pdf: bytes | None = None


def documents(made: Issued, *, html: bool, pdf: bool) -> Documents:
    """Return the certificate *made* in the forms asked for; both say the same."""
    return Documents()
