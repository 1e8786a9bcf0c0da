"""Readings in great numbers: what a line costs does not grow with what was read before."""

from small import model

from claywit.learning.readings import MOST_TRAITS, Collected, Reading
from claywit.model.schema import Node


class Counted(str):
    """A turn that counts how often it is compared with another."""

    __slots__ = ()
    times = 0
    __hash__ = str.__hash__

    def __eq__(self, other):
        Counted.times += 1
        return str.__eq__(self, other)


def test_a_turn_is_looked_up_among_those_before_it():
    """A list of the turns took a hundred thousand looks for the hundred-thousandth reading."""
    collected, Counted.times = Collected(None), 0
    for i in range(2_000):
        assert collected.add_all([Reading("p", "A", "rim", "flat", Counted(i))]) == ""
    assert Counted.times < 4_000
    assert "read rim of p in turn 7 before" in collected.add_all(
        [Reading("p", "A", "rim", "flat", Counted("7"))]
    )
    (found,) = collected.traits()
    assert found.turn.tolist() == list(range(2_000))


def test_the_model_is_looked_through_once(monkeypatch):
    looks = []
    is_trait = Node.is_trait.fget
    monkeypatch.setattr(Node, "is_trait", property(lambda node: looks.append(1) or is_trait(node)))
    collected = Collected(model())
    for i in range(50):
        assert collected.add_all([Reading(f"p{i}", "A", "rim", "flat")]) == ""
    assert len(looks) == len(model().nodes)


def test_more_traits_than_are_compared_are_refused_whatever_the_form():
    wide = [Reading("p", "A", f"t{i}", "yes") for i in range(MOST_TRAITS)]
    more = Reading("p", "A", "more", "yes")
    assert "more than 300 traits" in Collected(None).add_all([*wide, more])
    collected = Collected(None)
    assert collected.add_all(wide) == ""
    assert "more than 300 traits" in collected.add_all([more])
    assert collected.add_all([Reading("q", "A", "t0", "yes")]) == ""
