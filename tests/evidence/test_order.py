"""What an order of events says, once, of the nodes that the model maps it to; and the client's priors."""

import pytest
from small import examined, model
from tablet import TABLET

from claywit.errors import EvidenceError


@pytest.fixture(scope="module")
def tablet():
    return model(TABLET)


def by_node(found):
    return {finding.node: finding for finding in found.findings}


def test_an_order_of_events_sets_the_node_it_speaks_of(tablet):
    found = by_node(examined(tablet, "{net: some}", "sequence: [[coat, crack]]"))
    assert found["meeting"].state == "cuts"
    assert found["meeting"].implied_by == ("coat", "crack")


def test_an_order_that_allows_two_states_is_a_likelihood(tablet):
    found = by_node(examined(tablet, "{net: some}", "sequence: [[crack, coat]]"))
    assert found["meeting"].likelihood == {"cuts": 0.0, "bridges": 1.0, "fills": 1.0}


def test_an_order_that_a_finding_already_says_is_not_counted_twice(tablet):
    alone = examined(tablet, "{net: some, meeting: cuts}")
    both = examined(tablet, "{net: some, meeting: cuts}", "sequence: [[coat, crack]]")
    assert both.findings == alone.findings


def test_an_order_leaves_a_finding_that_says_less_as_it_is(tablet):
    """A likelihood that allows the state stands: what the order says is not counted on top."""
    findings = "{net: some, meeting: {likelihood: {cuts: 1, bridges: 0.5, fills: 0.1}}}"
    alone, both = (
        examined(tablet, findings),
        examined(tablet, findings, "sequence: [[coat, crack]]"),
    )
    assert both.findings == alone.findings
    assert both.not_used == ()


def test_two_orders_that_say_different_things_of_one_node_are_refused():
    text = TABLET.replace("node: age, state: late", "node: hold, state: tight")
    with pytest.raises(
        EvidenceError, match=r"dirt under coat says hold is over_dirt, dirt under crack says tight"
    ):
        examined(model(text), "{}", "sequence: [[dirt, coat, crack]]")


def test_an_order_may_be_written_as_one_chain(tablet):
    chain = examined(tablet, "{net: some}", "sequence: [[dirt, coat, crack]]")
    pairs = examined(tablet, "{net: some}", "sequence: [[dirt, coat], [coat, crack]]")
    assert chain.findings == pairs.findings


def test_what_two_orders_say_together_is_said(tablet):
    found = by_node(examined(tablet, "{net: some}", "sequence: [[dirt, coat], [coat, crack]]"))
    assert (found["hold"].state, found["age"].state) == ("over_dirt", "late")


def test_a_pair_that_the_model_does_not_know_is_kept_as_not_used(tablet):
    assert examined(tablet, "{}", "sequence: [[wear, repair]]").not_used == (("wear", "repair"),)


def test_priors_are_scaled_to_sum_to_1_exactly(tablet):
    found = examined(tablet, "{}", "priors: {shop: {north: 0.3, south: 0.7000004}}")
    assert sum(found.priors["shop"].values()) == pytest.approx(1, abs=1e-15)
