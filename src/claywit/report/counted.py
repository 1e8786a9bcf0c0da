"""What `moulds` says: how often moulds were met, and how many there may have been."""

from typing import Literal

from claywit.learning.moulds import Estimate, Sightings, bounds, coverage, estimates
from claywit.model.values import Value
from claywit.report.counting import bulleted, mould_cautions
from claywit.report.evaluated_wording import counted as how_many

SHOWN = 12


class OneEstimate(Value):
    """One estimate of the number of moulds, with what it takes for granted; none if too few."""

    name: str
    assumes: str
    source: str
    moulds: float | None
    low: float | None
    high: float | None


class Moulds(Value):
    """How many moulds there were, as a range over estimates that assume different things.

    apart: pieces left out since their state stands for many moulds. covered: the share of all
    pieces that are of moulds seen, with its 95 % interval. low, high: the range of estimates.
    """

    format: Literal["claywit-moulds/1"] = "claywit-moulds/1"
    node: str
    pieces: int
    moulds: int
    apart: int
    frequencies: dict[int, int]
    covered: float
    covered_low: float
    covered_high: float
    estimates: tuple[OneEstimate, ...]
    low: float | None
    high: float | None
    cautions: tuple[str, ...]

    def text(self) -> str:
        """Return the answer as lines for a terminal."""
        once, moulds = self.frequencies.get(1, 0), how_many(self.moulds, "mould")
        reach = f"(95 %: {_share(self.covered_low)} to {_share(self.covered_high)})"
        lines = [
            f"{how_many(self.pieces)} of {moulds}, {once:,} of them met once",
            *([f"{how_many(self.apart)} left apart: their moulds are not told apart"]
              if self.apart else []),
            "",
            "pieces of a mould  " + " ".join(f"{k:>4}" for k in self._shown()),
            "moulds             " + " ".join(f"{self.frequencies[k]:>4}" for k in self._shown()),
        ]  # fmt: skip
        if len(self.frequencies) > SHOWN:
            lines.append(f"                   … and {len(self.frequencies) - SHOWN} more, up to"
                         f" {max(self.frequencies):,} pieces")  # fmt: skip
        lines += [
            "",
            f"coverage {_share(self.covered)} {reach},",
            "the share of all pieces that are of moulds met here",
            "",
            *(line for one in self.estimates for line in _lines(one)),
            "",
            self._range(),
            "",
            *bulleted(self.cautions),
        ]
        return "\n".join(lines)

    def _shown(self) -> list[int]:
        return list(self.frequencies)[:SHOWN]

    def _range(self) -> str:
        if self.low is None or self.high is None:
            return "No estimate: every piece is of another mould, so there may be any number."
        few = "; with under two pieces a mould, all of them are rough"
        low, high = f"{self.low:.0f}", f"{self.high:.0f}"
        return (
            f"{f'Between {low} and' if low != high else 'About'} {high} mould"
            f"{'' if high == '1' else 's'}, by what one takes for granted"
            f"{few if self.pieces < 2 * self.moulds else ''}."
        )


def _share(share: float) -> str:
    if share > 0.9995:
        return "over 0.999"
    return "under 0.001" if share < 0.0005 else f"{share:.3f}"


def _lines(one: OneEstimate) -> list[str]:
    if one.moulds is None:
        return [f"{one.name:<10} none: every piece is of another mould", f"           {one.source}"]
    low = "" if one.low is None else f"{one.low:.1f}"
    high = "no limit" if one.high is None else f"{one.high:.1f}"
    reach = f" (95 %: {low} to {high})" if low else ""
    return [
        f"{one.name:<10} {one.moulds:>6.1f}{reach}  {one.assumes}",
        f"           {one.source}",
    ]


def counted(node: str, seen: Sightings, apart: int) -> Moulds:
    """Return what sightings of the states of a node amount to."""
    covered, found = coverage(seen), estimates(seen)
    reach = bounds(found)
    return Moulds(
        node=node,
        pieces=seen.pieces,
        moulds=seen.moulds,
        apart=apart,
        frequencies=dict(seen.frequencies),
        covered=covered.share,
        covered_low=covered.low,
        covered_high=covered.high,
        estimates=tuple(_one(estimate) for estimate in found),
        low=reach[0] if reach else None,
        high=reach[1] if reach else None,
        cautions=tuple(mould_cautions()),
    )


def _one(estimate: Estimate) -> OneEstimate:
    return OneEstimate(
        name=estimate.name,
        assumes=estimate.assumes,
        source=estimate.source,
        moulds=estimate.moulds,
        low=estimate.low,
        high=estimate.high,
    )
