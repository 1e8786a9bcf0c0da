from dataclasses import replace

import learnt
import networks
import numpy as np
import pytest
import small
from learnt import cases, drawn, worth

from claywit.errors import CasesError
from claywit.evidence.findings import Finding
from claywit.inference.expected import routes, run, slotted
from claywit.learning import slots
from claywit.learning.effective import effective
from claywit.learning.fit import Terms, fit
from claywit.learning.numbers import elicited, log_prior
from claywit.learning.writing import changes
from claywit.learning.zeros import EXPLAINED, why_impossible, zero_met

SHOPS = learnt.SHOPS


def shares(found, name):
    return found.numbers.shares[name]


def test_complete_cases_are_added_to_what_was_elicited():
    pieces = [{"shop": "north", "rim": "flat"}] * 3 + [{"shop": "south", "rim": "bevelled"}]
    found = fit(SHOPS, cases(SHOPS, pieces))
    assert shares(found, "shop")[0] == pytest.approx([(10 + 3) / 24, (8 + 1) / 24, 2 / 24])
    assert shares(found, "rim") == pytest.approx(np.array([[16 / 23, 7 / 23], [3 / 21, 18 / 21]]))


def test_a_row_that_holds_for_several_states_counts_them_together():
    pieces = [{"shop": shop, "rim": "flat"} for shop in ("south", "other", "other")]
    found = fit(SHOPS, cases(SHOPS, pieces))
    assert shares(found, "rim")[1] == pytest.approx([2 / 23, 21 / 23])
    assert effective(found).rows["rim"].tolist() == [0, 3]


def test_a_structural_zero_stays_and_its_case_is_refused_by_name():
    pieces = [{"shop": "north", "seal": "pressed"}, {"shop": "south", "seal": "pressed"}]
    read = cases(SHOPS, pieces)
    found = fit(SHOPS, read)
    assert found.used.tolist() == [False, True]
    assert shares(found, "seal")[0].tolist() == [1, 0]
    why = zero_met(found.start.numbers.network, read.findings(0))
    assert why.startswith("seal=pressed, given shop=north, has probability 0 in the model")


def test_a_zero_behind_something_unseen_names_what_cannot_stand_together():
    model = networks.build("chain", {
        "a": {"states": ["x", "y"], "rows": [{"p": {"x": 0.5, "y": 0.5}}]},
        "b": {"states": ["x", "y"], "parents": ["a"], "rows": [
            {"given": {"a": "x"}, "p": {"x": 1}}, {"given": {"a": "y"}, "p": {"y": 1}}]},
        "c": {"states": ["x", "y"], "parents": ["b"], "rows": [
            {"given": {"b": "x"}, "p": {"x": 1}}, {"given": {"b": "y"}, "p": {"y": 1}}]},
    })  # fmt: skip
    network = elicited(model).network
    apart = [Finding("a", state="x"), Finding("c", state="y")]
    why = "a=x and c=y cannot stand together: the model gives them probability 0"
    assert zero_met(network, apart) == why_impossible(network, apart, EXPLAINED - 1) == why
    assert "c=y" not in why_impossible(network, apart, EXPLAINED)


def test_pieces_that_are_all_impossible_are_an_error():
    with pytest.raises(CasesError, match="every piece probability 0"):
        fit(SHOPS, cases(SHOPS, [{"shop": "north", "seal": "pressed"}]))


def test_a_row_without_n_is_exact_and_stays():
    model = worth(SHOPS, 20)
    data = model.model_dump(mode="json", exclude_defaults=True)
    del data["nodes"][0]["rows"][0]["n"]
    exact = type(model).model_validate(data)
    found = fit(exact, cases(exact, [{"shop": "south"}] * 9))
    assert shares(found, "shop")[0] == pytest.approx([0.5, 0.4, 0.1])


def test_what_was_not_examined_says_nothing():
    whole = fit(SHOPS, cases(SHOPS, [{"shop": "north", "rim": "flat"}]))
    gaps = fit(SHOPS, cases(SHOPS, [{"shop": "north", "rim": "flat", "mark": None}, {"wear": None}]))  # fmt: skip
    for name in ("shop", "rim", "mark", "wear"):
        assert shares(whole, name) == pytest.approx(shares(gaps, name), abs=1e-5)


@pytest.mark.parametrize("seed", range(8))
def test_every_round_raises_log_likelihood_plus_log_prior(seed):
    model, read = learnt.random_fit(seed)
    found = fit(model, read, Terms(rounds=60))
    steps = np.diff(found.objective)
    assert (steps > -1e-7 * np.abs(found.objective[1:])).all(), steps.min()
    assert found.objective[-1] > found.objective[0]


@pytest.mark.parametrize("seed", range(3))
def test_a_fit_ends_where_no_other_rows_of_a_node_do_better(seed):
    model, read = learnt.random_fit(seed, size=6, hideable=0.0)
    found = fit(model, read, Terms(enough=1e-9, rounds=500))
    rng = np.random.default_rng(seed)
    name = min(found.numbers.shares)
    top = found.objective[-1]
    for _ in range(4):
        moved = nudged(found, name, rng)
        again = fit_height(found, moved)
        assert again < top + 1e-6


def nudged(found, name, rng):
    now = found.numbers
    rows = now.shares[name] * np.exp(0.2 * rng.standard_normal(now.shares[name].shape))
    rows = rows / rows.sum(axis=1, keepdims=True)
    tables = {**now.network.rows, name: rows[now.network.row_index[name]]}
    network = replace(now.network, rows=tables)
    return replace(now, network=network, shares={**now.shares, name: rows})


def fit_height(found, numbers):
    logs = [slot.logs(numbers.network) for slot in found.start.slots]
    given = slotted(numbers.network, found.machine, logs)
    ways = routes(found.machine, found.columns.picks, found.columns.weights)
    likelihood = sum(way.weights @ run(found.machine, way, given).log_evidence for way in ways)
    return likelihood + log_prior(found.start, numbers)


def test_the_same_file_in_another_order_gives_the_same_model():
    model, read = learnt.random_fit(3)
    once, twice = fit(model, read), fit(model, read.take(range(len(read) - 1, -1, -1)))
    for name, rows in once.numbers.shares.items():
        assert rows == pytest.approx(twice.numbers.shares[name], abs=1e-9)
    again = fit(model, read, Terms(workers=2))
    assert again.objective == once.objective


def test_a_hidden_node_on_which_nothing_was_seen_gains_nothing():
    found = fit(SHOPS, cases(SHOPS, [{"wear": "much"}] * 50 + [{"shop": "north"}]))
    assert effective(found).rows["shop"] == pytest.approx([1.0], abs=1e-6)


def test_a_hidden_node_gains_less_than_one_that_was_recorded():
    read = drawn(SHOPS, 400, 3)
    hidden = fit(SHOPS, drawn(SHOPS, 400, 3, without=["shop"]))
    shown = fit(SHOPS, read)
    assert effective(shown).rows["shop"] == pytest.approx([400])
    assert 5 < effective(hidden).rows["shop"][0] < 200


def test_a_doubtful_reading_counts_for_less_than_a_sure_one():
    sure = fit(SHOPS, cases(SHOPS, [{"shop": "north", "rim": "flat"}]))
    special = {0: {"rim": Finding("rim", state="flat", sure=0.7)}}
    doubtful = fit(SHOPS, cases(SHOPS, [{"shop": "north"}], special=special))
    assert shares(SHOPS_BEFORE, "rim")[0, 1] < shares(doubtful, "rim")[0, 1]
    assert shares(doubtful, "rim")[0, 1] < shares(sure, "rim")[0, 1]
    assert effective(doubtful).rows["rim"][0] < 1


SHOPS_BEFORE = fit(SHOPS, cases(SHOPS, [{"wear": "much"}]))


HIDE = small.model(small.HIDDEN)


def hidden_cases(hidden, seen):
    special = {i: {"size": Finding("size", not_visible=True)} for i in range(hidden)}
    pieces = [{"r": "a", "o": "o2"}] * hidden + [{"r": "a", "o": "o2", "size": 5.0}] * seen
    for piece in pieces[:hidden]:
        piece.pop("size", None)
    return cases(HIDE, pieces, special=special)


def test_visibility_is_learned_only_where_thirty_pieces_record_obstruction():
    few = fit(HIDE, hidden_cases(9, 20))
    assert few.obstructed == {"o": 29}
    assert few.numbers.network.hiding["size"].tolist() == [0.1, 0.5]
    enough = fit(HIDE, hidden_cases(10, 20))
    assert enough.obstructed == {"o": 30}
    assert enough.numbers.network.hiding["size"] == pytest.approx([0.1, (10 + 10) / (20 + 30)])


def test_what_is_hidden_says_that_something_is_in_the_way_before_it_is_learned():
    special = {0: {"size": Finding("size", not_visible=True)}}
    found = fit(HIDE, cases(HIDE, [{"r": "a"}], special=special))
    # P(o2 | a, hidden) = .1 x .5 / (.9 x .1 + .1 x .5), of one piece
    assert shares(found, "o")[0, 1] == pytest.approx((2 + 0.05 / 0.14) / 21, abs=0.002)


def test_what_is_hardly_ever_seen_is_not_written_as_never_seen():
    found = fit(HIDE, hidden_cases(10, 20))
    network = replace(found.numbers.network, hiding={"size": np.array([1e-9, 1 - 2e-9])})
    after = replace(found.numbers, network=network)
    every = changes(HIDE, found.start.numbers, after, effective(found))
    (one,) = [change for change in every if change.what == "visibility"]
    assert one.after == {"o1": 1e-9, "o2": 0.999999998}


def test_visibility_never_falls_where_it_was_elicited_to_rise():
    special = {i: {"size": Finding("size", not_visible=True)} for i in range(30)}
    pieces = [{"r": "a", "o": "o1"}] * 30 + [{"r": "a", "o": "o2", "size": 5.0}] * 30
    found = fit(HIDE, cases(HIDE, pieces, special=special))
    low, high = found.numbers.network.hiding["size"]
    assert low == high == pytest.approx((2 + 30 + 10) / (20 + 30 + 20 + 30))


GATE = networks.build("gate", {
    "a": {"states": ["no", "yes"], "rows": [{"p": {"no": 0.5, "yes": 0.5}, "n": 2}]},
    "b": {"states": ["no", "yes"], "rows": [{"p": {"no": 0.5, "yes": 0.5}, "n": 2}]},
    "g": {"states": ["low", "high"], "parents": ["a", "b"], "noisy_or": {
        "leak": {"p": {"high": 0.2}, "n": 4},
        "causes": [{"given": {"a": "yes"}, "p": {"high": 0.5}, "n": 4},
                   {"given": {"b": "yes"}, "p": {"high": 0.5}, "n": 4}]}},
})  # fmt: skip


def test_the_leak_of_a_gate_is_counted_outright_where_no_cause_is_at_work():
    pieces = [{"a": "no", "b": "no", "g": g} for g in ["high"] * 3 + ["low"] * 7]
    found = fit(GATE, cases(GATE, pieces))
    assert found.numbers.parts["g"][0] == pytest.approx([(3.2 + 7) / 14, (0.8 + 3) / 14])
    worth_ = effective(found)
    assert worth_.leaks["g"] == pytest.approx(10)
    assert worth_.causes["g"] == pytest.approx([0, 0])


def test_a_gate_recovers_its_parts_from_many_pieces():
    truth = GATE.model_dump(mode="json", exclude_defaults=True)
    gate = truth["nodes"][2]["noisy_or"]
    gate["leak"]["p"]["high"], gate["causes"][0]["p"]["high"] = 0.1, 0.8
    gate["causes"][1]["p"]["high"] = 0.3
    read = drawn(type(GATE).model_validate(truth), 4000, 5)
    leak, a, b = fit(GATE, read).numbers.parts["g"]
    assert leak[1] == pytest.approx(0.1, abs=0.03)
    assert a[1, 1] == pytest.approx(0.8, abs=0.03)
    assert b[1, 1] == pytest.approx(0.3, abs=0.05)
    assert a[0].tolist() == [1, 0]


def test_a_known_truth_is_recovered_though_readings_and_the_shop_are_missing():
    truth = small.model(small.SHOPS.replace("bevelled: 0.8, flat: 0.2", "bevelled: 0.6, flat: 0.4"))
    found = fit(SHOPS, drawn(truth, 6000, 11, missing=0.3))
    assert shares(found, "rim")[0, 0] == pytest.approx(0.6, abs=0.03)
    assert found.converged


@pytest.mark.parametrize("node", ["rim", "shop"])
def test_doubtful_readings_are_compared_once_each_not_each_with_each(node, monkeypatch):
    looked, form = [], slots._form
    monkeypatch.setattr(slots, "_form", lambda finding: looked.append(1) or form(finding))
    states = SHOPS.node(node).state_names
    special = {
        i: {node: Finding(node, likelihood={s: 1 - i % 50 / 100 * k for k, s in enumerate(states)})}
        for i in range(100)
    }
    pieces = cases(SHOPS, [{"mark": "stroke"}] * 101, special)
    found = slots.slots_of(elicited(SHOPS).network, pieces)
    picks = next(slot.picks for slot in found if slot.node.name == node)
    first = len(states)
    assert picks.tolist() == [*range(first, first + 50)] * 2 + [first + 50]
    assert len(looked) <= 3 * len(special)
