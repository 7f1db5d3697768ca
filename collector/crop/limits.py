"""A number that a rule of the crop goes by, with how well it is founded; the grower may put another in its place."""

from __future__ import annotations

from dataclasses import dataclass

from collector.calls import Evidence


@dataclass(frozen=True, slots=True)
class Limit:
    """A threshold in its unit, and who says so."""

    value: float
    unit: str
    evidence: Evidence
    source: str

    def by_grower(self, value: float) -> Limit:
        """The limit that the grower sets instead [the same unit].

        Args:
            value: the grower's own number [the same unit].

        Raises:
            ValueError: a number that is not finite.

        Source: none; what it replaces stays told.
        """
        inside("a limit set by the grower", value, -1e9, 1e9, self.unit)
        usual = f"{self.value:g} {self.unit}, {self.evidence}: {self.source}"
        return Limit(value, self.unit, Evidence.OWN, f"set by the grower; the usual is {usual}")


def inside(name: str, value: float, least: float, most: float, unit: str) -> None:
    """Refuses a number outside a range, and one that is not a number [its own unit].

    Args:
        name: what to call it in the error.
        value: the number [its own unit].
        least: the least that can be [its own unit].
        most: the most that can be [its own unit].
        unit: that unit, for the error.

    Raises:
        ValueError: a number outside the range, or NaN.

    Source: by definition.
    """
    if not least <= value <= most:
        raise ValueError(f"{name} is {value}; want {least:g} to {most:g} [{unit}]")
