"""What a release of priors says beside the rates of causes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from advisor.knowledge.library import Instrument


@dataclass(frozen=True)
class Learned:
    """Factors on the library's minutes by kind of work, and chances of a slip by instrument in place of the library's.

    Raises:
        ValueError: a factor is not above zero, or a chance not between zero and one.
    """

    minutes: Mapping[str, float] = field(default_factory=dict)
    slips: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse what is no factor and no chance."""
        if not all(0.0 < factor < float("inf") for factor in self.minutes.values()):
            raise ValueError("a factor of minutes must be above zero and finite")
        if not all(0.0 < slip < 1.0 for slip in self.slips.values()):
            raise ValueError("a chance of a slip must lie between zero and one")

    def __bool__(self) -> bool:
        """Whether it says anything."""
        return bool(self.minutes or self.slips)

    def over(self, base: Learned) -> Learned:
        """The same with another behind it, for work and instruments of which it says nothing."""
        return Learned({**base.minutes, **self.minutes}, {**base.slips, **self.slips})

    def of(self, tool: Instrument) -> Instrument:
        """An instrument as it is held to be."""
        return replace(tool, slip=self.slips[tool.id]) if tool.id in self.slips else tool
