"""The opinion on what was just locked or amended: formed beside all else, kept before it shows.

It takes a second or more. No lock is held meanwhile, so that no key of another piece waits for it;
a page that asks for the opinion before it is kept forms it itself (`standing.open_up`).
"""

from contextlib import suppress

from claywit import assessment
from claywit.bench.desk import Desk
from claywit.bench.judge import Dropped
from claywit.bench.standing import is_judged, stand
from claywit.records import opening
from claywit.records.case import read_case
from claywit.records.opinions import Asked, Posed, formed, pose, save
from claywit.report.report import Report


async def keep_opinion(desk: Desk, name: str) -> None:
    """Keep the opinion on what is locked now of a draft; none where its provenance is contested.

    Raises:
        ClaywitError: as `assessment.assess`.
    """
    posed = await desk.work(_pose, desk, name)
    if posed is None:
        return
    with suppress(Dropped):  # the bench is closed: it is formed once a page asks for it
        report = await desk.judge_first(
            assessment.assess, posed.examined, desk.standards, named=posed.named
        )
        await desk.work(_keep, desk, name, posed, report)


def _pose(desk: Desk, name: str) -> Posed | None:
    standing = stand(desk, name)
    if standing.is_contested or standing.case is None:
        return None
    with opening.opened(desk.casebook) as store, store.reading():
        return pose(store, standing.case, desk.model, Asked(examiner=standing.draft.examiner))


def _keep(desk: Desk, name: str, posed: Posed, report: Report) -> None:
    """Keep an opinion, unless the readings were amended since, or one on them is kept already."""
    draft = stand(desk, name).draft
    asked = Asked(examiner=draft.examiner)
    with desk.opining, opening.opened(desk.casebook, write=True) as store, store.writing():
        case = read_case(store, draft.piece.id)
        held = case.examination(draft.examiner)
        if held is None or held[0].digest != posed.step.digest or is_judged(case, held[0]):
            return
        made = formed(case, posed, report, (desk.model, desk.standards, asked))
        save(store, case.id, made, desk.now())
