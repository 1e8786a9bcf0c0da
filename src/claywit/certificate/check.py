"""`verify` as a whole, read top to bottom: from the bytes of a file to a verdict."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256
from typing import TYPE_CHECKING

from claywit.certificate.schema import Certificate
from claywit.certificate.shipped import SHIPPED
from claywit.certificate.standing import Lists, check_status
from claywit.certificate.verify import Findings, Verdict, check_certificate
from claywit.certificate.words import SHOWN_BY_SIGNATURE, TIME_CLAIMED

if TYPE_CHECKING:  # the model's schema takes long to import, and is rarely needed
    from claywit.model.schema import Model


@dataclass(frozen=True)
class Against:
    """What a reader holds against a certificate.

    signer: the Multikey that should have signed. status: the signer's status lists.
    model: the model that should have been used. page: the bytes of the HTML or PDF that
    was handed out with it. recompute: form the opinion anew.
    """

    signer: str | None = None
    status: Lists = field(default_factory=Lists)
    model: "Model | None" = None
    page: bytes | None = None
    recompute: bool = True


def verify(text: bytes, against: Against, *, now: datetime) -> Verdict:
    """Return what is right and wrong with a file that claims to be a certificate.

    Nothing is asked of any network, and nothing that the file says is taken on trust.
    """
    found = Findings()
    read = check_certificate(found, text, signer=against.signer, now=now)
    if read is None:
        return Verdict(tuple(found.checks), tuple(found.failures), notes=_notes(None))
    value = read
    check_status(found, value, against.status, now)
    _check_model(found, value, against.model)
    _check_numbers(found, value, against)
    # The file is its own canonical form, so its digest is that of its bytes.
    digest = sha256(text).hexdigest()
    if against.page is not None:
        from claywit.certificate.handed import check_page
        from claywit.certificate.issue import Issued

        check_page(found, Issued(text, value.id, digest, value), against.page)
    return Verdict(tuple(found.checks), tuple(found.failures), value, digest, _notes(value))


def _check_model(found: Findings, value: Certificate, model: "Model | None") -> None:
    if model is None:
        return
    from claywit.report.digest import digest

    if digest(model) == value.trace.model.digest:
        found.passed("model", "it is the model that you named")
        return
    used, known = value.trace.model, f"{model.name} {model.version}"
    said = f"it used {used.name} {used.version}"
    if used.name == model.name and _numbers(used.version) < _numbers(model.version):
        found.failed("model", "older_model", f"{said}, and you named the later {known}")
    else:
        found.failed("model", "model_differs", f"{said}, not the {known} that you named")


def _numbers(version: str) -> list[int]:
    return [int(part) for part in version.split(".")]


def _check_numbers(found: Findings, value: Certificate, against: Against) -> None:
    """Form the opinion anew, if that makes sense and was asked for."""
    if not against.recompute:
        found.skipped("numbers", "not recomputed, as you asked")
        return
    if any(failure.code in ("model_differs", "older_model") for failure in found.failures):
        found.skipped("numbers", "not recomputed: there is no model to do it with")
        return
    if value.trace.model.source is None and against.model is None:
        found.skipped("numbers", "not recomputed: the model is not in it; give it with --model")
        return
    from claywit.certificate.replay import replay, summed_up

    anew = replay(value, against.model)
    for code, sentence in summed_up(anew.differences):
        found.failed("numbers", code, sentence)
    if anew.differences:
        return
    found.passed(
        "numbers",
        f"{anew.figures} figures found again by a second engine (pgmpy) within 1e-9: prior,"
        " posterior, P(findings), total and left-out weights",
    )
    found.passed(
        "other figures",
        "weights in turn and alone, order-free shares, intervals (drawn again from the printed"
        " seed) and all else of the report were replayed by claywit itself, not by a second engine",
    )
    for sentence in _of_another_version(anew.other_version, anew.unmatched):
        found.skipped("other version", sentence)


def _of_another_version(version: str, unmatched: tuple[str, ...]) -> Iterator[str]:
    if version:
        yield f"its words were made by claywit {version} and were not compared"
    if unmatched:
        shown = ", ".join(unmatched[:5])
        more = f" and {len(unmatched) - 5} more" if len(unmatched) > 5 else ""
        yield f"only one of the two versions of claywit speaks of {shown}{more}"


def _notes(value: Certificate | None) -> tuple[str, ...]:
    if value is None:
        return (SHOWN_BY_SIGNATURE,)
    return (*value.trace.notices, *_own_words(value), SHOWN_BY_SIGNATURE, TIME_CLAIMED)


def _own_words(value: Certificate) -> Iterator[str]:
    """Yield which of the scale and the policy claywit never shipped."""
    for what, part in (("scale", value.trace.scale), ("policy", value.trace.policy)):
        if part.id not in SHIPPED:
            named = f"The {what} {part.id[:80]!a} is not one that claywit ships"
            yield f"{named}: its words and limits are the signer's own."
