import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import procrustes

from claywit.errors import EvidenceError
from claywit.reasoning.landmarks import Bar, overlay, true_scale

SHAPE = [
    (200.0, 80.0),
    (90.0, 200.0),
    (310.0, 200.0),
    (80.0, 420.0),
    (320.0, 420.0),
    (200.0, 260.0),
]


def moved(points, scale, turn, shift):
    """Return the points turned, scaled and shifted."""
    z = np.array([complex(*p) for p in points]) * scale * np.exp(1j * turn) + complex(*shift)
    return [(p.real, p.imag) for p in z]


def laid(found, points):
    a, b, c, d, e, f = found.matrix
    return [(a * x + c * y + e, b * x + d * y + f) for x, y in points]


@given(
    scale=st.floats(0.2, 5),
    turn=st.floats(-3.1, 3.1),
    shift=st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
)
def test_what_was_only_turned_scaled_and_shifted_leaves_nothing_over(scale, turn, shift):
    found = overlay(SHAPE, moved(SHAPE, scale, turn, shift))
    assert found.rms == pytest.approx(0, abs=1e-8)
    assert found.scale * scale == pytest.approx(1, abs=1e-10)


def test_the_residual_is_that_of_scipy_on_shapes_of_its_kind():
    rng = np.random.default_rng(3)
    noisy = [
        tuple(p) for p in np.array(moved(SHAPE, 0.9, 0.4, (30, 10))) + rng.normal(0, 3, (6, 2))
    ]
    _, _, disparity = procrustes(np.array(SHAPE), np.array(noisy))
    centred = np.array(SHAPE) - np.mean(SHAPE, axis=0)
    found = overlay(SHAPE, noisy)
    assert found.rms**2 * len(SHAPE) / (centred**2).sum() == pytest.approx(disparity, abs=1e-12)


def test_the_matrix_lays_each_landmark_its_residual_away_mirrored_or_not():
    rng = np.random.default_rng(4)
    noisy = [tuple(p) for p in np.array(SHAPE) + rng.normal(0, 4, (6, 2))]
    for mirrored in (False, True):
        there = [(x, -y) if mirrored else (x, y) for x, y in noisy]
        found = overlay(SHAPE, there, mirrored=mirrored)
        apart = np.hypot(*(np.array(laid(found, there)) - np.array(SHAPE)).T)
        assert apart.tolist() == pytest.approx(list(found.residuals), abs=1e-9)
        assert max(found.residuals) < 12


def test_the_stated_uncertainty_of_the_scale_is_how_much_it_varies():
    rng = np.random.default_rng(5)
    drawn = [
        overlay([tuple(p) for p in np.array(SHAPE) + rng.normal(0, 2, (6, 2))], SHAPE)
        for _ in range(400)
    ]
    spread = np.std([one.scale for one in drawn])
    assert np.sqrt(np.mean([one.u**2 for one in drawn])) == pytest.approx(spread, rel=0.15)


def test_a_stretch_is_told_from_a_likeness():
    tilted = [(x * 1.05, y) for x, y in SHAPE]
    found = overlay(tilted, SHAPE)
    assert found.stretch == pytest.approx(1.05, abs=1e-9)
    assert found.stretched_rms == pytest.approx(0, abs=1e-9)
    assert found.rms > 2


def test_scales_in_both_photographs_give_the_ratio_of_the_pieces():
    # The first is drawn at 8 px a mm, the second at 7.5: 1 / 8 beside 0.9 / 7.5 is 1.0417.
    found = overlay(SHAPE, moved(SHAPE, 0.9, 0.1, (5, 5)))
    ratio, u = true_scale(found, Bar((0, 0), (160, 0), 20), Bar((0, 0), (0, 150), 20))
    assert ratio == pytest.approx(1.0416667, abs=1e-6)
    assert u == pytest.approx(0, abs=1e-9)
    with pytest.raises(EvidenceError, match="mark both of its ends"):
        true_scale(found, Bar((0, 0), (0, 0), 20), Bar((0, 0), (0, 150), 20))


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        (SHAPE[:2], SHAPE[:2], "mark the same 3 to 200"),
        (SHAPE, SHAPE[:5], "mark the same 3 to 200"),
        (SHAPE, [(1.0, 1.0)] * 6, "coincide"),
        ([(float("inf"), 0.0), *SHAPE[1:]], SHAPE, "outside of any photograph"),
    ],
)
def test_landmarks_that_say_nothing_are_refused(first, second, said):
    with pytest.raises(EvidenceError, match=said):
        overlay(first, second)
