"""The similarity of least squares against its published example.

S. Umeyama, "Least-squares estimation of transformation parameters between two point patterns",
IEEE Transactions on Pattern Analysis and Machine Intelligence 13(4), 1991, 376-380, section IV: the
triangle (0, 0), (1, 0), (0, 2) onto its mirror image (0, 0), (-1, 0), (0, 2). The printed values of
rotation, shift and scale are quoted here from memory of the paper, to three decimals.
"""

import pytest

from claywit.reasoning.landmarks import overlay

TRIANGLE = [(0, 0), (1, 0), (0, 2)]
MIRRORED = [(0, 0), (-1, 0), (0, 2)]


def test_the_printed_rotation_shift_and_scale_are_found():
    found = overlay(MIRRORED, TRIANGLE)
    a, b, c, d, e, f = found.matrix
    assert found.scale == pytest.approx(0.721, abs=5e-4)
    assert [a / found.scale, c / found.scale] == pytest.approx([0.832, 0.555], abs=5e-4)
    assert [b / found.scale, d / found.scale] == pytest.approx([-0.555, 0.832], abs=5e-4)
    assert [e, f] == pytest.approx([-0.800, 0.400], abs=5e-4)


def test_the_mirror_is_noticed_and_takes_all_of_the_residual_away():
    assert overlay(MIRRORED, TRIANGLE).mirrored_rms == pytest.approx(0, abs=1e-12)
    assert overlay(MIRRORED, TRIANGLE, mirrored=True).rms == pytest.approx(0, abs=1e-12)
