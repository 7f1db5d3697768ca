"""What can hurt people in the work with the crop, in sentences that always go with it, and where they come from.

They defer to labels, local codes and licensed practice; nothing here is a permission.
"""

from __future__ import annotations

from dataclasses import dataclass

from collector.calls import Evidence


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution, how well it is founded and by whom."""

    text: str
    evidence: Evidence
    source: str


GARLIC_IN_OIL = Caution(
    "Raw garlic in oil can grow the bacterium of botulism, which cannot be seen or smelled and can kill: never keep it at room "
    "temperature. Refrigerate it at once and use it within 4 days, or freeze it. Agencies differ, 4, 7 or 10 days; "
    "this is the strictest.",
    Evidence.PUBLISHED,
    "Penn State Extension, Preserving foods in oil (10 days); 4 days after USDA and the National Center for Home Food "
    "Preservation and 7 days of other agencies from memory",
)
BACKFLOW = Caution(
    "Feed drawn into a hose can be sucked back into the drinking water when the pressure falls. Fit a listed backflow preventer "
    "at the tap, even where the injector has a check valve; your plumbing code says which.",
    Evidence.PUBLISHED,
    "University of Georgia Extension B1237, Fertilizer injectors (heading seen); codes from memory: UPC, IPC (ASSE 1011, 1013), "
    "EN 1717, AS/NZS 3500.1",
)
CLEAN_GEAR = Caution(
    "Never feed with a sprayer or injector that has held a herbicide or pesticide. Flush it after use, and do not drink from the "
    "hose.",
    Evidence.COMMON_PRACTICE,
    "common practice, no source",
)
LABEL_FIRST = Caution(
    "The product's label and your local rules come before any number here.",
    Evidence.COMMON_PRACTICE,
    "common practice, no source",
)
FEEDING = (LABEL_FIRST, BACKFLOW, CLEAN_GEAR)
BURIED_LINES = Caution(
    "Before you drive a stake, have gas, power, water and telephone lines marked: 811 in the United States, the service for that "
    "elsewhere; dig by hand near the marks. Your local code rules.",
    Evidence.COMMON_PRACTICE,
    "common practice, no source",
)
LOW_VOLTAGE = Caution(
    "Nothing in the bed above 24 V direct current, with a fuse at its source. Mains outdoors is for someone licensed, behind a "
    "residual-current device, by your local code.",
    Evidence.COMMON_PRACTICE,
    "common practice, no source",
)
CELLS = Caution(
    "Lithium-ion cells must not be charged below 0 °C or above 40 °C, nor lie in the sun: shade and vent their box, or take "
    "others.",
    Evidence.PUBLISHED,
    "US Fire Administration, battery safety, after NFPA",
)
MOUNTING = (BURIED_LINES, LOW_VOLTAGE, CELLS)
