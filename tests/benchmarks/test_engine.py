"""How fast the engine is beside two general libraries, in one run on one machine.

Every ratio is of the least processor time of several repeats on each side: what other programs do
to a machine at the same time then falls on neither. Only the ratios are asserted.
"""

import itertools

import numpy as np
import pyagrum
import pytest
from engines import Claywit, EveryNode, Pgmpy, Pyagrum, a_star, a_tangle, drawn_pieces, well_known
from figures import figure, least

from claywit.errors import ModelError
from claywit.inference import many
from claywit.inference.network import compile_network

pytestmark = pytest.mark.benchmark
BATCH = 10_000


def each(engine, drawn, pieces):
    def run():
        for piece in range(pieces):
            engine.posteriors(drawn, piece)

    return run


def agree(ours, other, drawn):
    """Assert that both engines give the same posteriors of the first pieces."""
    found = ours.posteriors(ours.picks(drawn))
    for piece in range(20):
        for one, two in zip(found, other.posteriors(drawn, piece), strict=True):
            assert one[:, piece] == pytest.approx(two, abs=1e-9)


def beside(network, read, asked, label, engines, figures):
    """Measure a batch beside the *engines*, each with its goal and the ratio below which something broke:
    (its name, it, pieces, goal, floor)."""
    drawn = drawn_pieces(network, BATCH)
    ours = Claywit(network, read, asked)
    picks = ours.picks(drawn)
    for _, other, *_ in engines:
        agree(ours, other, drawn)
    # In turn, so that a quiet or a busy moment of the machine serves none of them alone.
    rounds = [
        (
            least(lambda: ours.posteriors(picks), 3) / BATCH,
            [least(each(other, drawn, pieces), 1) / pieces for _, other, pieces, *_ in engines],
        )
        for _ in range(7)
    ]
    mine = min(one for one, _ in rounds)
    all_of_theirs = [min(taken) for taken in zip(*(others for _, others in rounds), strict=True)]
    for (name, _, _, goal, floor), theirs in zip(engines, all_of_theirs, strict=True):
        figure(figures, f"{label}, {BATCH:,} pieces: a piece",
               f"{mine * 1e6:.1f} µs; {name}: {theirs * 1e6:,.0f} µs, "
               f"so {theirs / mine:.0f} times as fast", f"{goal} times" if goal else "")  # fmt: skip
        assert theirs / mine >= floor, name
    return ours, picks, mine


VERSION = pyagrum.__version__
KEPT = "kept between pieces, targets declared"


@pytest.fixture(scope="module")
def demo(demo_model):
    network = compile_network(demo_model)
    return network, [n.name for n in network.model.nodes if n.is_trait and n.states]


def test_a_batch_on_the_demo_model(demo, figures):
    network, read = demo
    asked = network.model.targets
    engines = [
        (f"pyagrum {VERSION}, LazyPropagation {KEPT}", Pyagrum(network, read, asked), 60, 120, 60),
        (f"pyagrum {VERSION}, VariableElimination {KEPT}",
         Pyagrum(network, read, asked, pyagrum.VariableElimination), 60, None, 100),
        ("pgmpy, VariableElimination, one query for all targets", Pgmpy(network, read, asked), 20, 400, 120),
    ]  # fmt: skip
    label = f"posteriors of all four targets of the demo model's discrete part, {len(read)} traits"
    beside(network, read, asked, label, engines, figures)


@pytest.mark.parametrize(("name", "asked", "goal"), [("alarm", "n_hypovolemia", 200),
                                                     ("hepar2", "n_cirrhosis", 50)])  # fmt: skip
def test_a_batch_on_a_well_known_network(name, asked, goal, figures):
    """The evidence is every node that is nobody's parent."""
    network = well_known(name)
    read = sorted(network.leaves - {asked})
    engines = [
        (f"pyagrum {VERSION}, LazyPropagation {KEPT}", Pyagrum(network, read, [asked]), 100, goal, goal),
        (f"pyagrum {VERSION}, VariableElimination {KEPT}",
         Pyagrum(network, read, [asked], pyagrum.VariableElimination), 100, None, goal),
    ]  # fmt: skip
    label = f"posterior of {asked[2:].upper()} in {name.upper()}, {len(read)} findings"
    beside(network, read, [asked], label, engines, figures)


def test_leaving_out_every_finding_of_every_piece(demo, figures):
    """Both are timed in stretches of like length, in turn, and compared pair by pair: what else the machine
    does falls on both of a pair, but on no two pairs alike."""
    network, read = demo
    ours = Claywit(network, read, network.model.targets)
    picks = ours.picks(drawn_pieces(network, 1_000))

    def ten():
        for _ in range(10):
            ours.joint(picks)

    pairs = [(least(ten, 1) / 10, least(lambda: ours.each_left_out(picks), 1)) for _ in range(15)]
    ratios = sorted(all_of_them / one for one, all_of_them in pairs)
    middle = ratios[len(ratios) // 2]
    figure(figures, f"each of {len(read)} findings left out in turn, 1,000 pieces, exact",
           f"{middle:.1f} times the posteriors alone, median of {len(ratios)} pairs (the middle half "
           f"{ratios[len(ratios) // 4]:.1f} to {ratios[-1 - len(ratios) // 4]:.1f})", "11 times")  # fmt: skip
    assert middle <= 12


def test_the_posteriors_of_every_hidden_node(demo, figures):
    """pyagrum is asked for the same nodes; claywit goes up the tree and down again."""
    network, read = demo
    drawn = drawn_pieces(network, 2_000)
    ours = EveryNode(network, read)
    other = Pyagrum(network, read, ours.asked)
    picks = ours.picks(drawn)
    agree(ours, other, drawn)
    mine, theirs = (
        least(lambda: ours.posteriors(picks), 3) / 2_000,
        least(each(other, drawn, 30), 3) / 30,
    )
    figure(figures, f"posteriors of all {len(ours.asked)} hidden nodes of the demo model, 2,000 pieces: a piece",
           f"{mine * 1e6:.0f} µs; pyagrum {VERSION}, LazyPropagation kept between pieces, these nodes declared: "
           f"{theirs * 1e6:,.0f} µs, so {theirs / mine:.0f} times as fast", "")  # fmt: skip
    assert theirs / mine >= 10


def test_what_the_compiled_tree_costs(demo, figures):
    """The peak is that of multiplying and adding 64-bit numbers of arrays that stay in the cache.

    What is worked by the block is counted: combinations of states multiplied, entries summed.
    """
    network, read = demo
    ours = Claywit(network, read, network.model.targets)
    picks = ours.picks(drawn_pieces(network, BATCH))
    taken = least(lambda: ours.joint(picks), 7) / BATCH
    every = sum(
        int(np.count_nonzero(b.weights)) * (len(b.slots) + len(b.children) + 1)
        for b in ours.tree.buckets
    )
    steps = many._planned(many.Columns(ours.tree, ours.loaded.combined, picks)).steps
    work = sum(product.count for step in steps for product in step.products)
    work += sum(2 * step.matrix.nnz for step in steps)
    one, two, out = (np.random.default_rng(0).random(8_192) for _ in range(3))

    def plain():
        for _ in range(1_000):
            np.multiply(one, two, out=out)
            np.add(out, one, out=out)

    peak = 2 * 1_000 * one.size / least(plain, 7)
    figure(figures, "multiplications and additions for a piece of the demo model",
           f"{every:,} for every state and factor of the compiled tree; {work:,} where states that meet are "
           f"multiplied once, {work / taken / 1e9:.2f} a nanosecond, {work / taken / peak:.0%} of numpy's own "
           f"peak here of {peak / 1e9:.2f}", "")  # fmt: skip


def grows(taken, slack):
    """Assert that from one size to the next time grows at most *slack* times as fast as the size."""
    sizes = sorted(taken)
    for less, more in itertools.pairwise(sizes):
        assert taken[more] / taken[less] <= slack * more / less, (less, more)


def test_time_grows_no_faster_than_the_pieces(demo, figures):
    network, read = demo
    ours = Claywit(network, read, network.model.targets)
    taken = {}
    for pieces in (1, 10, 100, 1_000, 10_000, 40_000):
        picks = ours.picks(drawn_pieces(network, pieces))
        taken[pieces] = least(lambda: ours.joint(picks), 5)  # noqa: B023 - called at once
        figure(figures, f"{pieces:,} pieces of the demo model",
               f"{taken[pieces] * 1e3:.2f} ms, {taken[pieces] / pieces * 1e6:.1f} µs a piece", "")  # fmt: skip
    grows(taken, 1.6)
    assert taken[10_000] / 10_000 < taken[100] / 100 / 2  # and what pieces share is worked once


def test_time_grows_no_faster_than_the_traits_and_hardly_with_their_states(figures):
    taken = {}
    for traits, states in [(10, 4), (20, 4), (40, 4), (80, 4), (20, 2), (20, 8), (20, 16)]:
        network = a_star(traits, states)
        ours = Claywit(network, sorted(network.leaves), ["asked"])
        picks = ours.picks(drawn_pieces(network, BATCH))
        taken[traits, states] = least(lambda: ours.joint(picks), 5) / BATCH  # noqa: B023 - at once
        figure(figures, f"{traits} traits of {states} states on one question, {BATCH:,} pieces",
               f"{taken[traits, states] * 1e6:.2f} µs a piece", "")  # fmt: skip
    grows({traits: taken[traits, 4] for traits in (10, 20, 40, 80)}, 2)
    assert taken[20, 16] <= 3 * taken[20, 2]


def test_time_grows_with_the_largest_table(figures):
    taken = {}
    for width in (4, 8, 12, 16, 18):
        network = a_tangle(width)
        ours = Claywit(network, sorted(network.leaves), ["r0"])
        picks = ours.picks(drawn_pieces(network, 20))
        taken[ours.tree.widest] = least(lambda: ours.joint(picks), 3) / 20  # noqa: B023 - at once
        figure(figures, f"{width} causes of which every two share a trait, the largest table "
               f"{ours.tree.widest:,} entries, 20 pieces", f"{taken[ours.tree.widest] * 1e3:.2f} ms a piece", "")  # fmt: skip
    grows(taken, 4)  # what no longer stays in the cache costs more


def fits(width):
    network = a_tangle(width)
    try:
        Claywit(network, sorted(network.leaves), ["r0"])
    except ModelError:
        return False
    return True


def test_the_largest_network_that_fits(figures):
    width = 18
    while fits(width):
        width += 1
    figure(figures, "the largest table that is held", f"2^{width - 1} = {2 ** (width - 1):,} entries; "
           f"one of 2^{width} is refused before memory is asked for", "4,000,000 entries")  # fmt: skip
    assert width - 1 == 21
