"""Traits and states may be called what a page or its script has of its own."""

import pytest
from bench.browser import needs_browser, running, until
from bench.keyboard import practise, ready, saved

pytestmark = needs_browser

# Names that every object of a script has, and ids that stand on the page after the traits.
NAMES = ("constructor", "valueOf", "question", "said", "next", "opinion")
MODEL = """
format: claywit-model/1
name: odd
version: 1.0.0
targets: [shop]
status: elicited
sources: {test: for a test}
nodes:
  shop: {states: [north, south], rows: [{p: {north: 0.5, south: 0.5}, source: test, n: 20}]}
"""
TRAIT = """
  %s:
    states: [toString, constructor]
    parents: [shop]
    examine: {view: front}
    rows:
      - {given: {shop: north}, p: {toString: 0.8, constructor: 0.2}, source: test, n: 20}
      - {given: {shop: south}, p: {toString: 0.3, constructor: 0.7}, source: test, n: 20}
"""


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    folder = tmp_path_factory.mktemp("odd")
    model = folder / "odd.yaml"
    model.write_text(MODEL + "".join(TRAIT % name for name in NAMES), encoding="utf-8")
    with running(folder, model=model) as found:
        yield found


def test_such_traits_are_open_until_they_are_answered_and_are_saved_as_answered(tab):
    practise(tab)
    assert tab.inner_text("#count") == "0"
    assert set(tab.locator(".outline .mark").all_text_contents()) == {"○"}
    for _ in NAMES:
        tab.keyboard.press("2")
        tab.keyboard.press("j")
    saved(tab)
    tab.keyboard.press("v")  # the last, weighed by state
    weights = tab.locator("#trait-opinion [data-likelihood]")
    assert {one.input_value() for one in weights.all()} == {""}
    tab.keyboard.press("Escape")
    tab.keyboard.press("2")
    saved(tab)
    until(tab, "document.querySelector('#opinion .answer') !== null")
    tab.reload()
    ready(tab)
    assert tab.inner_text("#count") == str(len(NAMES))
    assert set(tab.locator(".outline .mark").all_text_contents()) == {"●"}
    assert tab.locator(".trait").count() == len(NAMES)
