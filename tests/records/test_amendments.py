"""No amendment of a reading is left out of what is said of it, however small or far down it is."""

import pytest
from desk import at, evidence, new, open_case, opine

from claywit.records import casebook
from claywit.records.amendments import ROOM, amendments
from claywit.records.case import read_case

LONG = "along the rim, " * 150


def amended(tmp_path, before, after):
    with new(tmp_path / "c.db") as kept:
        open_case(kept, findings=before)
        opine(kept)
        casebook.amend(kept, "p-1", evidence(findings=after), "again", at(9), name="e.yaml")
        case = read_case(kept, "p-1")
        return amendments(kept, case, case.examination()[0])


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (f"{{rim: {{state: bevelled, where: '{LONG}'}}}}",
         f"{{rim: {{state: bevelled, where: '{LONG}', note: chipped}}}}"),
        (f"{{rim: {{state: bevelled, where: '{LONG}x', note: '{LONG}'}}}}",
         f"{{rim: {{state: bevelled, where: '{LONG}y', note: '{LONG}'}}}}"),
        ("{rim: {state: bevelled, sure: 0.9000001}}", "{rim: {state: bevelled, sure: 0.9000002}}"),
        ("{rim: {likelihood: {bevelled: 1, flat: 0.30000001}}}",
         "{rim: {likelihood: {bevelled: 1, flat: 0.30000002}}}"),
    ],
)  # fmt: skip
def test_a_change_leaves_a_trace(tmp_path, before, after):
    (found,) = amended(tmp_path, before, after)
    assert found.about == "rim"
    assert found.was != found.now
    assert max(len(found.was), len(found.now)) <= ROOM
    assert found.opinion_seen
