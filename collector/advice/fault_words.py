"""What the checks found odd about a probe's last reading, in words. Pure."""

from __future__ import annotations

from collector.advice.voice import Voice
from collector.model import Flag, Probe, Reading
from collector.units import UNIT_RULES, Quantity

_TEMPERATURES = (Quantity.SOIL_TEMPERATURE, Quantity.AIR_TEMPERATURE)
_RATIOS = (Quantity.SOIL_MOISTURE, Quantity.RELATIVE_HUMIDITY)


def fault_words(probe: Probe, last: Reading | None, voice: Voice) -> str | None:
    """The gravest fault of a probe's last reading, as a sentence with what to do; None where there is none."""
    if last is None:
        return None
    said = said_words(probe, last.value, voice)
    where = "soil" if probe.depth_m is not None else "air"
    # The gravest first: what tells the cause before what only tells that the number cannot be.
    sentences = {
        Flag.RESET_VALUE: f"Says {said}, its power-on value: it loses power while it measures. Check plug and supply.",
        Flag.DISCONNECTED: f"Says {said}, which stands for no answer: it is not connected. Check plug and cable.",
        Flag.FUTURE: "Dates its readings in the future, so they are not used. Set the clock of its stake.",
        Flag.DUG_UP: f"Says {said}, out of the air: its stake was dug up. Push it back in.",
        Flag.STANDS_STILL: f"Has said {said} all day while the soil moved. It is stuck: take its power away for a moment.",
        Flag.SCATTERS: "Jumps about as no soil does, so it is not believed. Check its plug and cable.",
        Flag.DRIFTS: "Drifts away from what the other depths tell, so it is not believed. Check how it sits.",
        Flag.LONG_AGO: "Dates its readings more than a year ago, so they are not used. Set the clock of its stake.",
        Flag.OUT_OF_RANGE: f"Says {said}, which {where} does not reach. Check the probe.",
        Flag.JUMP: f"Jumped to {said} from one reading to the next, faster than {where} changes. Was it dug up?",
        Flag.STUCK: f"Has said {said} and nothing else for days. It is stuck: take its power away for a moment.",
        Flag.UNCALIBRATED: f"Sends {last.raw:g}, and nothing tells what that means. Give it a calibration: cooldepth calibrate.",
    }
    return next((sentence for flag, sentence in sentences.items() if last.flags & flag), None)


def said_words(probe: Probe, value: float, voice: Voice) -> str:
    """A reading as a grower says it: "17.4 °C", "21 %", "3.1 V"."""
    if probe.quantity in _TEMPERATURES:
        return voice.temperature(value)
    if probe.quantity in _RATIOS:
        return f"{100 * value if probe.quantity is Quantity.SOIL_MOISTURE else value:.0f} %"
    if probe.quantity is Quantity.SOLAR_IRRADIANCE:
        return f"{value:.0f} W/m²"
    return f"{value:.1f} {UNIT_RULES[probe.quantity].unit}"
