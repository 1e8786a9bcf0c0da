"""How conclusions drift on the same pieces, against the same questions asked one by one."""

from math import log10

import numpy as np
import pytest
from small import SHOPS, model

from claywit.evidence.cases import Cases
from claywit.evidence.findings import Finding
from claywit.inference.network import compile_network
from claywit.learning.drift import drift
from claywit.model.renaming import renamed, under_new_names


def cases(known, *found, special=None):
    """Return pieces p-0, p-1, ... with a state (or None) of some nodes each."""
    names = dict.fromkeys(name for piece in found for name in piece)
    codes = {
        name: np.array(
            [known.node(name).all_states.index(p[name]) if name in p else -1 for p in found],
            dtype=np.int16,
        )
        for name in names
    }
    count = len(found)
    return Cases(known, tuple(f"p-{i}" for i in range(count)), ("",) * count,
                 np.arange(2, count + 2), codes, {}, {}, special or {})  # fmt: skip


def drifted(old_text, new_text, *found, special=None):
    old, new = model(old_text), model(new_text)
    names = renamed(old, new)
    networks = compile_network(under_new_names(old, names)), compile_network(new)
    return drift(*networks, names, [cases(old, *found, special=special)])


def test_the_move_of_one_piece_can_be_worked_out_by_hand():
    """A bevelled rim. North: .5 x .8 against .5 x .1 is 8 to 1; then .5 x .6 is 6 to 1."""
    new = SHOPS.replace("{bevelled: 0.8, flat: 0.2}", "{bevelled: 0.6, flat: 0.4}")
    found = drifted(SHOPS, new, {"rim": "bevelled"})
    (shop,) = found.targets
    assert found.pieces == 1
    assert shop.largest.before == shop.largest.after == "north"
    assert shop.largest.bans == pytest.approx(log10(6) - log10(8), abs=1e-12)
    assert shop.median == pytest.approx(log10(8 / 6), abs=1e-12)
    assert shop.changed == ()


def test_many_pieces_at_once_move_as_each_of_them_alone():
    new = SHOPS.replace("{bevelled: 0.8, flat: 0.2}", "{bevelled: 0.6, flat: 0.4}")
    rng = np.random.default_rng(7)
    states = {
        "rim": ["bevelled", "flat"],
        "mark": ["absent", "stroke"],
        "seal": ["absent", "pressed"],
    }
    pieces = [
        {node: str(rng.choice(names)) for node, names in states.items() if rng.random() < 0.7}
        for _ in range(30)
    ]
    alone = [drifted(SHOPS, new, piece).targets[0].largest.bans for piece in pieces]
    largest = max(alone, key=abs)
    found = drifted(SHOPS, new, *pieces).targets[0]
    assert found.largest.bans == pytest.approx(largest, abs=1e-12)
    assert found.median == pytest.approx(float(np.median(np.abs(alone))), abs=1e-12)


def test_a_piece_that_leads_elsewhere_is_named():
    new = SHOPS.replace("{bevelled: 0.8, flat: 0.2}", "{bevelled: 0.02, flat: 0.98}")
    found = drifted(SHOPS, new, {"rim": "bevelled"}, {"mark": "stroke"})
    (shop,) = found.targets
    assert [(move.piece, move.before, move.after) for move in shop.changed] == [
        ("p-0", "north", "south")
    ]


def test_the_truth_that_the_file_knows_is_no_evidence():
    found = drifted(SHOPS, SHOPS, {"rim": "bevelled", "shop": "south"})
    assert found.targets[0].largest.before == "north"


def test_between_equal_models_nothing_drifts():
    found = drifted(SHOPS, SHOPS, {"rim": "flat"}, {"mark": "stroke", "seal": "pressed"})
    assert found.targets[0].largest.bans == 0
    assert found.targets[0].median == 0


def test_a_state_that_one_model_excludes_moves_without_bound():
    """A seal is pressed in the south alone, until the new model lets others press it too."""
    new = SHOPS.replace("p: {absent: 1}", "p: {absent: 0.99, pressed: 0.01}")
    found = drifted(SHOPS, new, {"seal": "pressed"})
    assert found.targets[0].largest.bans == -np.inf


def test_findings_that_a_model_excludes_together_are_counted_apart():
    no_south = SHOPS.replace("{north: 0.5, south: 0.4, other: 0.1}", "{north: 0.9, other: 0.1}")
    found = drifted(SHOPS, no_south, {"seal": "pressed"}, {"rim": "flat"})
    assert (found.pieces, found.excluded) == (1, ("p-0",))


def test_a_finding_that_the_new_model_has_no_word_for_is_left_out_and_counted():
    new = SHOPS.replace("shape: {label: Shape, nodes: [rim]}, signs", "signs").replace(
        SHOPS[SHOPS.index("  rim:\n") : SHOPS.index("  mark:\n")], ""
    )
    found = drifted(SHOPS, new, {"rim": "bevelled", "mark": "stroke"}, {"mark": "stroke"})
    assert found.left_out == {"rim": 1}
    assert found.pieces == 2


def test_a_renamed_trait_is_weighed_under_its_new_name():
    new = SHOPS.replace("mark", "marks").replace("stroke", "strokes")
    half = {0: {"mark": Finding("mark", likelihood={"absent": 0.5, "stroke": 1.0})}}
    found = drifted(SHOPS, new, {"rim": "flat"}, {"mark": "stroke"}, special=half)
    assert found.left_out == {}
    assert found.targets[0].largest.bans == 0


def test_where_nothing_can_be_looked_at_everything_but_the_targets_is_weighed():
    bare = "\n".join(line for line in SHOPS.splitlines() if "examine:" not in line)
    found = drifted(bare, bare, {"rim": "flat", "mark": "stroke", "shop": "north"})
    assert found.targets[0].largest.before == "south"
