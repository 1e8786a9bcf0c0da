"""How a piece stands: practice or a case, its readings open or locked, its opinion hidden or not.

Blind first: what the model says of a piece is hidden until its readings are locked in the
casebook. Every page that shows something of an opinion asks `opened` for it, and nothing else.
"""

from collections.abc import Collection
from contextlib import suppress
from dataclasses import dataclass

from starlette.requests import Request

from claywit.bench import drafts
from claywit.bench.desk import Desk
from claywit.bench.draft import Draft
from claywit.bench.web import Refused, desk_of
from claywit.bench.weighing import weighable
from claywit.errors import ClaywitError
from claywit.evidence.binding import Examined
from claywit.records import opening
from claywit.records.case import Case, Step, case_names, read_case
from claywit.records.kept import Examination, Opinion
from claywit.records.opinions import Asked, opine, readings
from claywit.records.store import Store

HIDDEN = (
    "The opinion stays hidden until the readings are locked, so that it cannot lead the eye."
    " Finish the examination and lock it."
)
READ_BY_ANOTHER = (
    "Somebody else reads this piece on this bench: what was read before, and what was said of it,"
    " stay hidden until those readings are locked, or the piece is taken off the bench unread."
)
CONTESTED = (
    "The provenance of this piece is contested, so no opinion is given. Once that is settled,"
    " correct its intake, on its own page of the casebook."
)


@dataclass(frozen=True)
class Standing:
    """A draft, the case it is about, and the readings of its examiner that are locked."""

    draft: Draft
    case: Case | None
    locked: tuple[Step, Examination] | None

    @property
    def is_open(self) -> bool:
        """Return whether the opinion may be shown."""
        return self.draft.practice or self.locked is not None

    @property
    def is_contested(self) -> bool:
        """Return whether somebody contests where the piece comes from, or whose it is."""
        if self.case is None:
            return False
        return self.case.opened.checklist.provenance_contested.answer == "yes"

    @property
    def is_sealed(self) -> bool:
        """Return whether story or price are sealed and were not shown yet."""
        return self.case is not None and self.case.is_sealed and not self.case.unmasked_at


@dataclass(frozen=True)
class Opened:
    """A piece whose opinion may be shown: what was examined, and how it stands."""

    standing: Standing
    examined: Examined
    problems: dict[str, str]

    @property
    def draft(self) -> Draft:
        """Return the draft."""
        return self.standing.draft


def stand(desk: Desk, name: str) -> Standing:
    """Return how the piece of a draft stands.

    Raises:
        ClaywitError: there is no such draft, or the casebook cannot be read.
    """
    if not drafts.exists(desk.drafts, name):
        raise Refused(404, "There is no such piece on the bench; it may have been removed.")
    draft = drafts.read(desk.drafts, name)
    if draft.model != desk.model.name:
        raise Refused(
            422,
            f"This piece was read by the traits of the model {draft.model}; start the bench with"
            " that model.",
        )
    if draft.practice:
        return Standing(draft, None, None)
    with opening.opened(desk.casebook) as store, store.reading():
        case = read_case(store, draft.piece.id)
    as_taken_in = draft.model_copy(update={"piece": case.opened.piece})
    return Standing(as_taken_in, case, case.examination(draft.examiner))


def open_pieces(desk: Desk) -> list[Draft]:
    """Return the pieces whose opinion may be shown."""
    found = []
    for draft in drafts.read_all(desk.drafts):
        # Of another model, of a case that is damaged, or read by somebody else.
        with suppress(ClaywitError, Refused):
            standing = stand(desk, draft.id)
            refuse_read_by_another(desk, standing)
            if standing.is_open:
                found.append(draft)
    return found


def open_up(desk: Desk, name: str) -> Opened:
    """Return what was examined, where the opinion on it may be shown: locked, or practice.

    Raises:
        Refused: it may not.
        ClaywitError: as `stand`, or the readings do not fit the model.
    """
    standing = stand(desk, name)
    if not standing.is_open:
        raise Refused(403, HIDDEN)
    refuse_read_by_another(desk, standing)
    if standing.is_contested:
        raise Refused(403, CONTESTED)
    if standing.case is None or standing.locked is None:
        found = weighable(standing.draft, desk.model)
        return Opened(standing, found.examined, found.problems)
    with opening.opened(desk.casebook) as store, store.reading():
        examined = readings(store, standing.case, standing.locked[0], desk.model)
    if not is_judged(standing.case, standing.locked[0]):
        _judge(desk, standing)
    return Opened(standing, examined, {})


def refuse_read_by_another(desk: Desk, standing: Standing) -> None:
    """Refuse to show what was read, or said of it, while somebody else here reads the same piece.

    Raises:
        Refused: somebody does.
    """
    if standing.case is not None and standing.locked and blind(desk, [standing.case]):
        raise Refused(403, READ_BY_ANOTHER)


def refuse_unknown(store: Store, case: str) -> None:
    """Refuse a case that is not in the casebook.

    Raises:
        Refused: as said.
    """
    if case not in case_names(store):
        raise Refused(404, "The casebook has no such case.")


def blind(desk: Desk, cases: Collection[Case]) -> frozenset[str]:
    """Return the cases that somebody examines on this bench and has not locked yet."""
    by_name = {case.id: case for case in cases}
    waiting = (d for d in drafts.read_all(desk.drafts) if not d.practice)
    return frozenset(
        draft.piece.id
        for draft in waiting
        if draft.piece.id in by_name and by_name[draft.piece.id].examination(draft.examiner) is None
    )


def is_judged(case: Case, step: Step) -> bool:
    """Return whether an opinion on these readings is kept, so that one may be shown."""
    return any(opinion.examination == step.digest for _, opinion in case.of(Opinion))


def _judge(desk: Desk, standing: Standing) -> None:
    """Keep an opinion on locked readings before a page shows one.

    None was kept where the bench ended between the two, or another program locked them. A later
    amendment would then say that no opinion was seen.
    """
    name, examiner = standing.draft.piece.id, standing.draft.examiner
    with desk.opining, opening.opened(desk.casebook, write=True) as store:
        with store.reading():
            case = read_case(store, name)
        held = case.examination(examiner)
        if held and not is_judged(case, held[0]):
            asked = Asked(examiner=examiner)
            opine(store, name, desk.model, desk.standards, desk.now(), asked=asked)


async def standing_of(request: Request) -> Standing:
    """Return how the piece that a page is about stands."""
    desk = desk_of(request)
    return await desk.work(stand, desk, request.path_params["draft"])


async def opened(request: Request) -> Opened:
    """Return the piece that a page is about, where its opinion may be shown.

    Raises:
        Refused: the readings are not locked.
        ClaywitError: as `open_up`.
    """
    desk = desk_of(request)
    return await desk.work(open_up, desk, request.path_params["draft"])
