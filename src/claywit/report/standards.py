"""The versioned files that the words of a report come from."""

from dataclasses import dataclass

from claywit.reasoning.policy import Policy
from claywit.report.scale import Scale


@dataclass(frozen=True)
class Standards:
    """The verbal scale for weights, and the policy for attributions."""

    scale: Scale
    policy: Policy
