"""How deep the roots of the season have come."""

from __future__ import annotations

from collector.soil.crop_coefficient import StageCoefficients, stage_coefficient

# Roots of a clove just sprouted drink from this deep [m]; common practice, no source.
SPROUTED_M = 0.15


def root_depth_m(
    day: float, lengths_d: tuple[float, float, float, float], deepest_m: float, sprouted_m: float = SPROUTED_M
) -> float:
    """Depth of the root zone on a day of the season [m]: it grows with the leaves, and stays when they wither.

    Args:
        day: day of the season, the first is 1; or its heat sum where the lengths are heat sums [d].
        lengths_d: lengths of the initial, development, mid and late stage, each above 0 [d].
        deepest_m: root depth from mid-season on: 0.3 to 0.5 for garlic [m].
        sprouted_m: root depth of the initial stage, above 0, not deeper than the deepest [m].

    Raises:
        ValueError: a stage of no length, or depths the wrong way round.

    Source: Allen et al. 1998, FAO-56, ch. 8 (roots grow in proportion to Kcb from the initial to the mid stage; from memory);
    the depth of garlic from Table 22, p. 163.
    """
    if not 0.0 < sprouted_m <= deepest_m:
        raise ValueError(f"sprouted_m is {sprouted_m}, deepest_m is {deepest_m}; want 0 < sprouted <= deepest")
    return stage_coefficient(day, lengths_d, StageCoefficients(sprouted_m, deepest_m, deepest_m))
