"""Two photographs laid over each other by landmarks: what is left over, and the scale, apart.

The residual after the best turn, shift and change of scale tells whether two reliefs are of one
lineage. The scale itself tells of generations: whoever zooms until two pictures agree throws it
away. So the two are never mixed.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claywit.errors import EvidenceError

Plane = NDArray[np.complex128]
Point = tuple[float, float]
LEAST = 3  # pairs; two fit exactly, whatever they are
LEAST_STRETCHED = 5  # pairs, that a stretch of its own may be told from chance
MOST = 200


@dataclass(frozen=True)
class Bar:
    """The two ends of a scale in a photograph, and how long it is in mm."""

    one: Point
    other: Point
    mm: float


@dataclass(frozen=True)
class Overlay:
    """How the second photograph lies on the first.

    matrix: (a, b, c, d, e, f) with x' = a x + c y + e and y' = b x + d y + f.
    scale: of the second's pixels in the first's. u: its standard uncertainty.
    residuals: of each landmark in pixels of the first, shape (landmarks,).
    rms: their root mean square. span: the greatest distance of two landmarks in the first.
    mirrored_rms: what would be left over if the second photograph were mirrored.
    stretched_rms, stretch: what would be left over if it could be stretched along one direction,
        and the ratio of the two scales that this takes; None for too few landmarks.
    """

    matrix: tuple[float, float, float, float, float, float]
    scale: float
    u: float
    residuals: tuple[float, ...]
    rms: float
    span: float
    mirrored_rms: float
    stretched_rms: float | None
    stretch: float | None


def overlay(first: Sequence[Point], second: Sequence[Point], *, mirrored: bool = False) -> Overlay:
    """Return the similarity that lays *second* on *first* with least squares.

    The closed form of S. Umeyama, "Least-squares estimation of transformation parameters between
    two point patterns", IEEE Transactions on Pattern Analysis and Machine Intelligence 13(4),
    1991, 376-380; in the plane a turn and a scale are one complex number, so that no singular
    value is needed. The uncertainty is that of the slope of a least-squares fit with four
    parameters and 2n - 4 degrees of freedom (any textbook).

    Raises:
        EvidenceError: fewer than three pairs, or the landmarks of a photograph coincide.
    """
    if len(first) != len(second) or not LEAST <= len(first) <= MOST:
        raise EvidenceError(
            f"{len(first)} and {len(second)} landmarks; mark the same {LEAST} to {MOST} in both,"
            " better 6 to 8"
        )
    here, there = _plane(first), _plane(second)
    if mirrored:
        there = there.conj()
    turn, shift, left = _similar(here, there)
    free = 2 * len(here) - 4
    spread = float((abs(there - there.mean()) ** 2).sum())
    squares = float((abs(left) ** 2).sum())
    stretched_rms, stretch = _stretched(here, there)
    side = -1.0 if mirrored else 1.0
    return Overlay(
        matrix=(
            turn.real, turn.imag, -turn.imag * side, turn.real * side, shift.real, shift.imag
        ),
        scale=abs(turn),
        u=float(np.sqrt(squares / free / spread)),
        residuals=tuple(abs(left).tolist()),
        rms=float(np.sqrt(squares / len(here))),
        span=float(abs(here[:, None] - here[None, :]).max()),
        mirrored_rms=_rms(_similar(here, there.conj())[2]),
        stretched_rms=stretched_rms,
        stretch=stretch,
    )  # fmt: skip


def _plane(points: Sequence[Point]) -> Plane:
    found = np.array([complex(x, y) for x, y in points], dtype=np.complex128)
    if not np.isfinite(found).all() or abs(found).max() > 1e7:
        raise EvidenceError("a landmark lies outside of any photograph")
    if float(np.ptp(found.real)) + float(np.ptp(found.imag)) < 1:
        raise EvidenceError("the landmarks of one photograph coincide; mark them apart")
    return found


def _similar(here: Plane, there: Plane) -> tuple[complex, complex, Plane]:
    """Return turn and scale as one number, the shift, and what is left over at each landmark."""
    a, b = here - here.mean(), there - there.mean()
    turn = complex(np.vdot(b, a) / np.vdot(b, b).real)
    shift = complex(here.mean() - turn * there.mean())
    return turn, shift, here - (turn * there + shift)


def _rms(left: Plane) -> float:
    return float(np.sqrt((abs(left) ** 2).mean()))


def _stretched(here: Plane, there: Plane) -> tuple[float | None, float | None]:
    """Return what an affine fit leaves over, and the ratio of its two scales."""
    if len(here) < LEAST_STRETCHED:
        return None, None
    b = there - there.mean()
    columns = np.stack([b.real, b.imag], axis=1)
    if np.linalg.matrix_rank(columns) < 2:
        return None, None
    a = here - here.mean()
    wanted = np.stack([a.real, a.imag], axis=1)
    fitted = np.linalg.lstsq(columns, wanted, rcond=None)[0]
    scales = np.linalg.svd(fitted, compute_uv=False)
    left = wanted - columns @ fitted
    ratio = float(scales[0] / scales[1]) if scales[1] > 0 else None
    return float(np.sqrt((left**2).sum(axis=1).mean())), ratio


def true_scale(found: Overlay, here: Bar, there: Bar) -> tuple[float, float]:
    """Return the first relief's size over the second's, and its standard uncertainty.

    Both photographs hold a scale; its ends are taken to be marked as finely as the landmarks.

    Raises:
        EvidenceError: a scale has no length.
    """
    pixels = [abs(complex(*bar.one) - complex(*bar.other)) for bar in (here, there)]
    if min(pixels) < 1 or min(here.mm, there.mm) <= 0:
        raise EvidenceError("a scale has no length; mark both of its ends, and say how many mm")
    per_mm = [length / bar.mm for length, bar in zip(pixels, (here, there), strict=True)]
    marking = found.rms / np.sqrt(2)  # of one coordinate, in pixels of the first
    doubts = (found.u / found.scale, marking / pixels[0], marking / found.scale / pixels[1])
    ratio = found.scale * per_mm[1] / per_mm[0]
    return ratio, ratio * float(np.sqrt(doubts[0] ** 2 + 2 * doubts[1] ** 2 + 2 * doubts[2] ** 2))
