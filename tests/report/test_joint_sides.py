"""One file under two priors or two models: what the sides then differ in."""

import pytest
from disputing import PRIORS, party, stated
from small import SHOPS, model

from claywit.errors import ClaywitError, EvidenceError
from claywit.evidence.parties import with_priors
from claywit.evidence.priors import read_priors


def with_rival_priors(findings, text=PRIORS):
    one = party(findings)
    priors, document = read_priors(text, "rival.yaml")
    return one, with_priors(one, priors, document.place)


def test_one_file_under_two_priors_leaves_nothing_to_look_at():
    found = stated(*with_rival_priors("{rim: bevelled}"))
    assert [(d.kind, d.label) for d in found.disagreed] == [("priors", "Priors")]
    assert (
        found.disagreed[0].reading_b
        == "workshop (the client's): north 10.0%, south 90.0%, other below 0.1%"
    )
    assert [p.name for p in found.parties] == ["A", "the rival"]
    assert found.statement[-1].startswith("No second look")
    assert not any("same examiner" in caution for caution in found.cautions)


def test_priors_that_do_not_fit_are_refused_at_their_own_file():
    text = PRIORS.replace(b"south", b"sooth")
    with pytest.raises(EvidenceError, match=r"^rival\.yaml:3: shop has no state sooth; did you"):
        stated(*with_rival_priors("{rim: bevelled}", text))
    with pytest.raises(EvidenceError, match=r"^rival\.yaml"):
        read_priors(b"priors: {}\n", "rival.yaml")


def test_one_file_under_two_models_shares_out_to_the_model():
    other = model(SHOPS.replace("{bevelled: 0.8, flat: 0.2}", "{bevelled: 0.4, flat: 0.6}"))
    found = stated("{rim: bevelled}", party("{rim: bevelled}", known=other))
    assert [(d.kind, d.share_bans) for d in found.disagreed] == [
        ("model", pytest.approx(-0.30103, abs=1e-5))
    ]
    assert found.disagreed[0].why == "not the same on rim"
    assert [p.name for p in found.parties] == ["first model", "second model"]


def test_models_that_do_not_know_the_answers_of_one_another_are_refused():
    other = model(SHOPS.replace("north", "nord").replace("North", "Nord"))
    with pytest.raises(ClaywitError, match=r"shop has the states north, .* and nord, south, other"):
        stated("{}", party("{}", "B", known=other), asked=(None, None, None))
