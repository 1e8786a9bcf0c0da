"""The cases of a casebook as candidates to be sorted."""

from collections.abc import Collection

from claywit.errors import ClaywitError
from claywit.model.schema import Model
from claywit.records import opinions
from claywit.records.case import Case, Step, read_cases
from claywit.records.store import Store
from claywit.triage import Candidate


def candidates(store: Store, model: Model, *, but: Collection[str] = ()) -> list[Candidate]:
    """Return all cases with locked readings, *but* some; call it inside `reading`."""
    found = []
    for case in read_cases(store):
        held = case.examination()
        if held and case.id not in but:
            found.append(_candidate(store, case, held[0], model))
    return found


def _candidate(store: Store, case: Case, step: Step, model: Model) -> Candidate:
    if case.opened.checklist.provenance_contested.answer == "yes":
        return Candidate(case.id, None, "its provenance is contested, so no opinion is given")
    try:
        return Candidate(case.id, opinions.readings(store, case, step, model))
    except ClaywitError as wrong:
        return Candidate(case.id, None, str(wrong))
