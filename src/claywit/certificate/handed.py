"""Whether the page or PDF that was handed out with a certificate says what was signed.

Only the signed file counts; a page beside it can say anything. The same certificate always
gives the same bytes, so the page is made anew and compared.
"""

import re

from claywit import __version__
from claywit.certificate.documents import documents
from claywit.certificate.issue import Issued
from claywit.certificate.verify import Findings
from claywit.errors import CertificateError

MADE_BY = re.compile(rb"Typst [0-9]+\.[0-9]+\.[0-9]+")


def check_page(found: Findings, made: Issued, page: bytes) -> None:
    """Compare *page* with what claywit makes of *made*, whose numbers were found to follow."""
    version = made.certificate.trace.method.version
    followed = any(c.name == "numbers" and c.state == "passed" for c in found.checks)
    if version != __version__:
        found.skipped("page", f"not compared: it was made by claywit {version}")
        return
    if found.failures or not followed:
        found.skipped("page", "not compared: that takes a certificate whose numbers follow")
        return
    is_pdf = page.startswith(b"%PDF-")
    try:
        anew = documents(made, html=not is_pdf, pdf=is_pdf)
    except CertificateError as wrong:
        found.skipped("page", f"not compared: {wrong}")
        return
    fresh = anew.pdf or anew.html or b""
    before, after = MADE_BY.findall(page), MADE_BY.findall(fresh)
    if page == fresh:
        found.passed("page", "it is to the byte what claywit makes of this certificate")
    elif is_pdf and before and set(before) != set(after):
        found.skipped(
            "page", "not compared: another version of Typst made it; read the signed file"
        )
    else:
        found.failed(
            "page",
            "other_page",
            "it is not what claywit makes of this certificate: a page of another one, a changed"
            " one, or a PDF in letters for which this machine has other fonts; the signed file"
            " alone counts",
        )
