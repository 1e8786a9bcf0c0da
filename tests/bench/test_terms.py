import pytest
from bench.asking import Asking

from claywit.bench import drafts
from claywit.bench.standing import open_up
from claywit.bench.weighing import weighable

FULL = {
    "client": "C",
    "intended_use": "sale",
    "intended_users": "C; D",
    "effective_date": "2026-01-11",
    "interest": "none",
    "told_beforehand": "nothing",
}
PAIR = {"for.mould": ["M04", "M05"], "for.class": "C1", "against.mould": "M12"}


@pytest.fixture
def bench(tmp_path):
    return Asking(tmp_path)


def identity(piece):
    return piece.rpartition("/")[2]


def held(bench, piece):
    return drafts.read(bench.desk.drafts, identity(piece))


def keep(bench, piece, **said):
    return bench.post(f"{piece}/terms", said)


def refused(bench, piece, said):
    answer = keep(bench, piece, **said)
    assert answer.status_code == 422, answer.text
    return answer.json()["error"]


def test_propositions_are_picked_and_dated_when_they_were_first_stated_so(bench):
    piece = bench.practise()
    assert keep(bench, piece, **PAIR).status_code == 200
    stated = held(bench, piece).propositions
    assert (stated.for_, stated.against) == ("class=C1,mould=M04|M05", "mould=M12")
    assert stated.stated_at == "2026-01-11"
    bench.ticks += 60 * 24 * 3
    keep(bench, piece, **PAIR, notes="seen in daylight")
    assert held(bench, piece).propositions == stated
    keep(bench, piece, **{**PAIR, "against.mould": "M01"})
    assert held(bench, piece).propositions.stated_at == "2026-01-14"
    shown = bench.get(f"{piece}/terms").text
    assert "Stated on 2026-01-14" in shown
    assert shown.count(" selected>") >= 5


def test_a_clients_prior_and_an_order_of_events_are_weighed_as_in_a_file(bench):
    piece = bench.practise()
    prior = {"P1": "50", "P2": "12.5 %", "P3": "12.5", "P4": "12.5", "P5": "12.5"}
    said = {f"prior.period.{state}": share for state, share in prior.items()}
    order = {"under": ["coating", "", "dirt"], "over": ["crack", "", "coating"]}
    assert keep(bench, piece, **said, **order).status_code == 200
    found = weighable(held(bench, piece), bench.desk.model)
    assert found.problems == {}
    assert found.examined.priors["period"]["P1"] == pytest.approx(0.5)
    assert {f.node: f.state for f in found.examined.findings} == {
        "coating_crack": "cuts",
        "coating_hold": "over_dirt",
    }
    judged = bench.get(f"{piece}/judged").text
    assert "The prior of period of pressing is the client" in judged
    shown = bench.get(f"{piece}/terms").text
    assert 'value="12.5"' in shown
    assert '<option value="coating" selected>' in shown


@pytest.mark.parametrize(
    ("said", "error"),
    [
        ({"prior.period.P1": "50"}, "priors of period sum to 0.5, must be 1"),
        ({"prior.period.P1": "12,5"}, "has a decimal comma"),
        ({"prior.period.P1": "101"}, "no share of a hundred"),
        ({"under": ["coating"], "over": [""]}, "choose both"),
        ({"under": ["coating", "crack"], "over": ["crack", "coating"]}, "goes round in a circle"),
        ({"for.mould": "M04"}, "one proposition alone has no weight"),
        ({"for.mould": "M04", "against.mould": "M04"}, "could be both"),
        ({"for.mould": "M99", "against.mould": "M04"}, "has no state M99"),
        ({"question": "grog"}, "it can be not visible, and a question is about a state"),
        ({"question": ["a", "b"]}, "a text of at most"),
        ({"client": "C" * 5000}, "a text of at most"),
        ({"client": "C\u202e"}, "client"),
        ({"under": ["no such"], "over": ["crack"]}, "sequence"),
    ],
)  # fmt: skip
def test_terms_that_do_not_fit_are_refused_with_one_error_and_nothing_is_kept(bench, said, error):
    piece = bench.practise()
    before = held(bench, piece)
    assert error in refused(bench, piece, said)
    assert held(bench, piece) == before


def test_what_the_order_of_events_says_of_a_trait_is_known_until_it_is_answered(bench):
    piece = bench.practise()
    keep(bench, piece, under=["coating", "crack"], over=["crack", "coating_2"])
    known = bench.state(piece)["implied"]
    assert known == {
        "coating_crack": "crack cuts the coat: coating lies under crack, in the order of events"
    }
    bench.see(piece, coating_crack="cuts")
    assert bench.state(piece)["implied"] == {}
    assert bench.state(piece)["problems"] == {}


def test_either_of_two_states_is_said_where_the_order_leaves_both(bench):
    piece = bench.practise()
    keep(bench, piece, under=["crack"], over=["coating"])
    assert " or " in bench.state(piece)["implied"]["coating_crack"]


def test_a_reading_against_the_order_of_events_is_kept_named_and_bars_the_lock(bench):
    piece = bench.examine()
    keep(bench, piece, under=["coating"], over=["crack"])
    bench.see(piece, coating_crack="fills", grog="present")
    state = bench.state(piece)
    assert "its finding says fills" in state["problems"]["terms"]
    assert state["readings"]["coating_crack"]["state"] == "fills"
    barred = bench.post(f"{piece}/lock", {"version": state["version"]})
    assert "Question and terms: " in barred.json()["error"]
    assert "its finding says fills" in bench.get(f"{piece}/terms").text


def test_terms_stated_after_the_lock_are_an_amendment_with_its_reason(bench):
    piece = bench.examine()
    bench.see(piece, grog="present", wear="none")
    keep(bench, piece, client="C")
    assert (
        bench.post(f"{piece}/lock", {"version": bench.state(piece)["version"]}).status_code == 200
    )
    assert "Say why the terms change" in refused(bench, piece, {**FULL, **PAIR})
    prior = {f"prior.period.P{i}": "20" for i in range(1, 6)}
    said = {**FULL, **PAIR, **prior, "under": ["coating"], "over": ["crack"]}
    wrong = {**said, "prior.period.P1": "21", "reason": "the client called"}
    assert "must be 1" in refused(bench, piece, wrong)
    assert keep(bench, piece, **said, reason="the client called").status_code == 200
    evidence = open_up(bench.desk, identity(piece)).examined.evidence
    assert evidence.propositions.for_ == "class=C1,mould=M04|M05"
    assert evidence.priors["period"]["P1"] == 0.2
    assert evidence.sequence == (("coating", "crack"),)
    (one,) = evidence.readings.amendments
    assert (one.about, one.opinion_seen) == ("terms", True)
    assert "the client called" in one.reason
    assert "No certificate is issued while" not in bench.get(f"{piece}/certificate").text


def test_terms_that_another_tab_changed_are_not_overwritten(bench):
    piece = bench.practise()
    seen = keep(bench, piece, client="C").json()["seen"]
    keep(bench, piece, client="D")
    assert bench.post(f"{piece}/terms", {"client": "E", "seen": seen}).status_code == 409
    assert held(bench, piece).engagement.client == "D"
    bench.see(piece, grog="present")  # an answer in another tab is no reason to refuse terms
    assert (
        keep(
            bench, piece, client="F", seen=keep(bench, piece, client="D").json()["seen"]
        ).status_code
        == 200
    )
