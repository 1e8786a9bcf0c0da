import re
from pathlib import Path

import pytest

from claywit.bench.families import AMOUNTS, FAMILIES, drawings
from claywit.bench.hints import HINTS
from claywit.bench.traits import VIEWS, traits
from claywit.records.files import read_demonstration, read_model

MODEL = read_demonstration()
NUMBERS = re.compile(r"[MmLlHhVvQqCcAaZz0-9 .,-]+")


def test_every_state_that_can_be_seen_has_a_drawing_of_its_own():
    for trait in traits(MODEL):
        drawn = [choice.drawing for choice in trait.choices]
        assert all(drawn), trait.name
        assert len(set(drawn)) == len(drawn), trait.name


def test_no_drawing_is_of_a_state_that_the_model_does_not_have():
    for name, states in HINTS.items():
        assert set(states) <= set(MODEL.node(name).state_names)


def test_a_stroke_is_a_path_and_nothing_else():
    for states in (*HINTS.values(), *FAMILIES):
        for drawing in states.values():
            assert all(NUMBERS.fullmatch(path) for _, path in drawing)


def test_a_trait_of_another_model_has_no_drawing_rather_than_a_wrong_one():
    assert drawings("bee_wing", ("open", "folded")) == {}
    assert drawings("shell", ("whole", "crushed")) == {}
    assert drawings("sheen", ("none", "absent")) == {}  # one drawing would stand for both
    assert drawings("glaze", ()) == {}


def test_a_trait_of_another_model_is_drawn_where_its_states_say_what_is_to_be_seen():
    assert drawings("specks", ("none", "few", "many")) == AMOUNTS
    colour = drawings("colour", ("straw", "amber", "brown"))
    assert len({colour[name] for name in ("straw", "amber", "brown")}) == 3


@pytest.mark.parametrize("name", ["oskervane", "tarn-loaves"])
def test_traits_come_in_the_order_of_work_and_each_one_once(name):
    model = read_model(Path(__file__).parents[2] / "models" / f"{name}.yaml")
    shown = traits(model)
    assert [t.view for t in shown] == sorted((t.view for t in shown), key=list(VIEWS).index)
    assert {t.name for t in shown} == {node.name for node in model.nodes if node.is_trait}
