"""The other side of a dispute: its file, its priors, its model, kept beside the draft and read."""

from collections.abc import Mapping
from dataclasses import replace

from pydantic import ValidationError

from claywit.bench import drafts
from claywit.bench.asked import MOST_YAML
from claywit.bench.desk import Desk
from claywit.certificate.outcome import Refused as NoCertificate
from claywit.certificate.verify import read_certificate
from claywit.errors import ClaywitError, EvidenceError, ModelError
from claywit.evidence.parties import Party, with_priors
from claywit.evidence.priors import read_priors
from claywit.evidence.written import Evidence, read_evidence
from claywit.model.schema import Model
from claywit.model.soundness import problems, read_data, read_with_lines
from claywit.records.disk import read_whole
from claywit.report.digest import digest

THEIRS = "the other side's file"
PRIORS = "the file of priors"
MODEL = "the other model"
NAMES = {"theirs": THEIRS, "priors": PRIORS, "model": MODEL}
MOST = {"theirs": 6_000_000, "priors": MOST_YAML, "model": MOST_YAML}
Brought = Mapping[str, bytes]


def brought(desk: Desk, draft: str) -> dict[str, bytes]:
    """Return what was brought of the other side, by its part; the draft was read."""
    paths = {part: drafts.beside(desk.drafts, draft, part) for part in MOST}
    return {part: read_whole(path, MOST[part]) for part, path in paths.items() if path.exists()}


def sides(model: Model, evidence: Evidence, parts: Brought) -> tuple[Party, Party]:
    """Return both sides; without a file of the other one the same readings stand on both.

    Raises:
        ClaywitError: something that was brought cannot be read.
    """
    own = Party(evidence, lambda _: "your readings", model)
    other = party(parts["theirs"], model) if "theirs" in parts else own
    if "model" in parts:
        other = replace(other, model=other_model(parts["model"]))
    if "priors" in parts:
        held, document = read_priors(parts["priors"], PRIORS)
        other = with_priors(other, held, document.place)
    return own, other


def refuse_unreadable(desk: Desk, part: str, text: bytes) -> None:
    """Refuse a part of the other side that could never be joined.

    Raises:
        ClaywitError: it cannot be read.
    """
    if part == "theirs":
        party(text, desk.model)
    elif part == "model":
        other_model(text)
    else:
        read_priors(text, PRIORS)


def other_model(text: bytes) -> Model:
    """Return the sound model in a file that was brought.

    Raises:
        ModelError: there is none, or it is too large for a page.
    """
    _refuse_long(text, MODEL, ModelError)
    return read_with_lines(text, MODEL)[0]


def party(text: bytes, own: Model) -> Party:
    """Return the other side: an evidence file, or a certificate with the model it carries.

    Raises:
        EvidenceError: it is neither.
    """
    if text.lstrip()[:1] != b"{":
        _refuse_long(text, THEIRS, EvidenceError)
        evidence, document = read_evidence(text, THEIRS)
        return Party(evidence, document.place, own)
    try:
        trace = read_certificate(text).trace
        evidence = Evidence.model_validate(trace.evidence.source)
        its = own if trace.model.digest == digest(own) else _carried(trace.model.source)
    except NoCertificate as wrong:
        raise EvidenceError(f"{THEIRS}: {wrong}") from None
    except (ValidationError, RecursionError):
        raise EvidenceError(f"{THEIRS}: what the certificate carries is not readable") from None
    return Party(evidence, lambda _: "the certificate", its)


def _refuse_long(text: bytes, name: str, error: type[ClaywitError]) -> None:
    if len(text) > MOST_YAML:
        raise error(f"{name}: {len(text):,} bytes; at most {MOST_YAML:,} are read here")


def _carried(source: object) -> Model:
    """Return the model that a certificate carries, sound or not at all."""
    if source is None:
        raise EvidenceError(f"{THEIRS}: it names another model and does not carry it")
    found = read_data(source, f"{THEIRS}: the model it carries")
    fault = next(problems(found), None)
    if fault:
        raise EvidenceError(f"{THEIRS}: the model it carries is not sound: {fault.text}")
    return found
