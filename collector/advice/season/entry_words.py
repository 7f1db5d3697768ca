"""An entry of the journal as a line to read. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from collector.advice.voice import Voice
from collector.journal import Deed, Entry


def entry_words(entry: Entry, voice: Voice) -> str:
    """What was done or seen, without when and where: "Watered: 68 litres", "Looked and counted: 7 leaves, 1 brown"."""
    deed = entry.deed.value[0].upper() + entry.deed.value[1:]
    parts = [*([entry.what] if entry.what else []), *_amounts(entry, voice), *([entry.note] if entry.note else [])]
    about = f" ({entry.planting})" if entry.planting else ""
    return f"{deed}{about}{': ' if parts else ''}{', '.join(parts)}"


def _amounts(entry: Entry, voice: Voice) -> Iterator[str]:
    told = entry.amounts
    if "litres" in told:
        yield voice.water(told["litres"])
    if "shade_pct" in told:
        yield f"{told['shade_pct']:g} %"
    if "thickness_m" in told:
        yield voice.depth(told["thickness_m"])
    if "product_g" in told:
        yield voice.mass(told["product_g"])
    if "n_g_m2" in told:
        yield f"{voice.nitrogen(told['n_g_m2'])} of nitrogen"
    if entry.deed is Deed.COUNTED:
        yield from _count(entry)
    if "yield_kg" in told:
        yield voice.mass(1000.0 * told["yield_kg"])
    if "bulbs" in told:
        yield f"{told['bulbs']:.0f} bulbs"
    if "diameter_mm" in told:
        yield f"{voice.width(told['diameter_mm'])} across"


def _count(entry: Entry) -> Iterator[str]:
    told = entry.amounts
    if "leaves" in told:
        yield f"{told['leaves']:.0f} leaves"
    if "browned" in told:
        yield f"{told['browned']:.0f} brown"
    if "bulb_to_neck" in told:
        yield f"bulb {told['bulb_to_neck']:g} times the neck"
    if "stem_thickens" in told:
        yield "the stem thickens" if told["stem_thickens"] else "the stem does not thicken"
    if "scape" in told:
        yield "scapes" if told["scape"] else "no scape"
