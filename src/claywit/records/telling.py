"""What is said of a case: plain data, and lines for a terminal.

Story and price are in it only once the seal was broken in this casebook.
"""

from typing import Literal

from claywit.evidence.written import ObjectId
from claywit.model.values import Value
from claywit.records.case import Case
from claywit.records.intake import DEFERENCE, missing, open_questions
from claywit.records.kept import Checklist, Examination, Opinion, Photograph, Sealed, Words
from claywit.report.numbers import percent

SHORT = 12  # digits of a digest that are printed


class PhotographTold(Value):
    """A photograph; *clean* is the digest under which it can be fetched."""

    added: str
    view: str
    scale: str
    width: int
    height: int
    clean: str


class ReadingsTold(Value):
    """Readings that were locked or amended; the last of each examiner hold."""

    locked: str
    examiner: str
    masked: bool
    evidence: str
    reason: str
    holds: bool


class OpinionTold(Value):
    """An opinion, what it said, and whether it holds."""

    formed: str
    model: str
    version: str
    model_digest: str
    report: str
    words: Words
    holds: bool


class CertificateTold(Value):
    """A certificate that was kept."""

    kept: str
    id: str
    certificate: str


class CaseTold(Value):
    """All that may be shown of a case."""

    format: Literal["claywit-case/1"] = "claywit-case/1"
    case: str
    piece: ObjectId
    object_id_lacks: tuple[str, ...]
    checklist: Checklist
    open_questions: tuple[str, ...]
    sealed: bool
    unmasked: str | None
    stories: tuple[tuple[str, str], ...]
    photographs: tuple[PhotographTold, ...]
    readings: tuple[ReadingsTold, ...]
    opinions: tuple[OpinionTold, ...]
    certificates: tuple[CertificateTold, ...]
    deference: str = DEFERENCE

    def text(self) -> str:
        """Return the case as lines for a terminal."""
        lines = [f"{self.case}  {self.piece.type}".rstrip(), *_intake_lines(self)]
        for title, rows in (
            ("Photographs", [_photograph_line(p) for p in self.photographs]),
            ("Readings", [_readings_line(r) for r in self.readings]),
            ("Opinions", [_opinion_line(o) for o in self.opinions]),
            (
                "Certificates",
                [f"{c.kept}  {c.id}  {c.certificate[:SHORT]}" for c in self.certificates],
            ),
        ):
            lines += [title if rows else f"{title}: none yet", *(f"  {row}" for row in rows)]
        return "\n".join([*lines, self.deference])


def _intake_lines(told: CaseTold) -> list[str]:
    lacks = ", ".join(told.object_id_lacks) or "nothing"
    still = ", ".join(told.open_questions) or "nothing"
    lines = [f"Object ID lacks: {lacks}", f"Checklist, still open: {still}"]
    if told.unmasked:
        lines.append(f"Unmasked {told.unmasked}")
        lines += [f"  {what}: {text}" for what, text in told.stories]
    elif told.sealed:
        lines.append("Sealed: story and price; `claywit casebook unmask` once readings are locked")
    return lines


def _photograph_line(told: PhotographTold) -> str:
    return (
        f"{told.view}, {told.width} × {told.height} pixels, scale: {told.scale}"
        f"  {told.clean[:SHORT]}"
    )


def _readings_line(told: ReadingsTold) -> str:
    masked = "provenance masked" if told.masked else "provenance not masked"
    by = f" by {told.examiner}" if told.examiner else ""
    reason = f" ({told.reason})" if told.reason else ""
    past = "" if told.holds else ", amended since"
    return f"{told.locked}{by}, {masked}{reason}{past}  {told.evidence[:SHORT]}"


def _opinion_line(told: OpinionTold) -> str:
    past = "" if told.holds else ", superseded"
    return (
        f"{told.formed}  {told.model} {told.version}: {words_said(told.words)}{past}"
        f"  {told.report[:SHORT]}"
    )


def words_said(words: Words) -> str:
    """Return the words of an opinion in one line."""
    label = words.leading if words.label == words.leading else f"{words.leading} {words.label}"
    term = f" ({words.term})" if words.term else ""
    worded = f": {words.attribution}" if words.attribution else ""
    return f"{words.question} {label}, {percent(words.share)}{term}{worded}"


def told(case: Case) -> CaseTold:
    """Return all that may be shown of *case*."""
    opened = case.opened
    held = {step.digest for step, _ in case.opinions}
    examined = case.of(Examination)
    examiners = {record.examiner for _, record in examined}
    hold = {found[0].digest for who in examiners if (found := case.examination(who))}
    return CaseTold(
        case=case.id,
        piece=opened.piece,
        object_id_lacks=tuple(missing(opened.piece, len(case.of(Photograph)))),
        checklist=opened.checklist,
        open_questions=tuple(open_questions(opened.checklist)),
        sealed=case.is_sealed,
        unmasked=case.unmasked_at,
        stories=_stories(case),
        photographs=tuple(
            PhotographTold(
                added=step.time, view=p.view, scale=p.scale, width=p.width, height=p.height,
                clean=p.clean,
            )
            for step, p in case.photographs
        ),
        readings=tuple(
            ReadingsTold(
                locked=step.time, examiner=r.examiner, masked=r.masked, evidence=r.evidence,
                reason=r.reason, holds=step.digest in hold,
            )
            for step, r in examined
        ),
        opinions=tuple(
            OpinionTold(
                formed=step.time, model=o.model_name, version=o.model_version,
                model_digest=o.model, report=o.report, words=o.words, holds=step.digest in held,
            )
            for step, o in case.of(Opinion)
        ),
        certificates=tuple(
            CertificateTold(kept=step.time, id=c.id, certificate=c.certificate)
            for step, c in case.certificates
        ),
    )  # fmt: skip


def _stories(case: Case) -> tuple[tuple[str, str], ...]:
    """Return what the broken seal shows; nothing of what was sealed since."""
    if not case.unmasked_at:
        return ()
    shown = case.shown
    return tuple(
        (what, text)
        for step, record in case.of(Sealed)
        if step.digest in shown
        for what, text in (("story", record.story), ("price", record.price))
        if text
    )


class CaseLine(Value):
    """One case in the list."""

    case: str
    type: str
    photographs: int
    state: Literal["taken in", "locked", "opinion", "certified"]
    words: Words | None


def line_of(case: Case) -> CaseLine:
    """Return a case as one line of the list."""
    opinions = case.opinions
    state: Literal["taken in", "locked", "opinion", "certified"] = "taken in"
    if case.examination():
        state = "locked"
    if opinions:
        state = "certified" if case.certificates else "opinion"
    return CaseLine(
        case=case.id,
        type=case.opened.piece.type,
        photographs=len(case.photographs),
        state=state,
        words=opinions[-1][1].words if opinions else None,
    )


def lines_said(lines: list[CaseLine]) -> str:
    """Return the list of cases for a terminal."""
    if not lines:
        return "No case yet; begin with `claywit casebook form`."
    width = max(len(line.case) for line in lines)
    said = [words_said(line.words) if line.words else "" for line in lines]
    rows = zip(lines, said, strict=True)
    return "\n".join(
        f"{line.case:{width}}  {line.state:9}  {words}".rstrip() for line, words in rows
    )


def may_leave(case: Case) -> dict[str, str]:
    """Return the digests of what may be fetched from a case, each with what it is."""
    found: dict[str, str] = {}
    for _, photograph in case.photographs:
        found[photograph.clean] = "photograph"
    for _, examined in case.of(Examination):
        found[examined.evidence] = "evidence"
    for _, opinion in case.of(Opinion):
        found |= {
            opinion.model: "model",
            opinion.scale: "scale",
            opinion.policy: "policy",
            opinion.report: "report",
        }
    for _, kept in case.certificates:
        found[kept.certificate] = "certificate"
    return found
