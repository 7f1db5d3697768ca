"""Writes into the garden file what was decided elsewhere, and leaves every other line and comment of the grower's as it is.

What would be written is read back first: the file is changed only where the garden that it then describes is the one
before and what was decided, and nothing else.
"""

from __future__ import annotations

import os
import re
import shutil
import threading
from dataclasses import replace
from pathlib import Path

from collector import garden_file
from collector.errors import GardenFileError, QuestionError
from collector.model import Garden, Place, Probe

# The header of a table. Within a text of several lines something may look like one: that the result is read back finds it out.
_HEADER = re.compile(r"^([ \t]*)\[{1,2}[ \t]*([\w.\-]+)[ \t]*\]{1,2}[ \t]*(?:#.*)?$")


def probe_lines(probe: Probe) -> list[str]:
    """A probe as the garden file writes it."""
    lines = ["[[bed.probe]]", f'id = "{probe.id}"', f'quantity = "{probe.quantity.value}"']
    if probe.depth_m is not None:
        lines.append(f"depth_cm = {round(probe.depth_m * 100, 6):g}")
    lines.append(f'address = "{probe.address}"')
    if probe.place is not Place.BED:
        lines.append(f'place = "{probe.place.value}"')
    return lines


def with_probe(text: str, bed_number: int, probe: Probe) -> str | None:
    """The text of a garden file with one more probe at the end of a bed, the first being 0; None where that bed is not found."""
    lines = text.split("\n")
    headers = [(number, found[1], found[2]) for number, line in enumerate(lines) if (found := _HEADER.match(line.rstrip("\r")))]
    beds = [number for number, _, name in headers if name == "bed"]
    if bed_number >= len(beds):
        return None
    begin = beds[bed_number]
    after = [number for number, _, name in headers if number > begin and not name.startswith("bed.")]
    end = after[0] if after else len(lines)
    # What stands before the next table with a sign of a comment belongs to that one.
    while end > begin + 1 and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
        end -= 1
    indents = [indent for number, indent, name in headers if begin < number < end and name.startswith("bed.")]
    indent, ending = (indents[-1] if indents else "  "), "\r" if lines[begin].endswith("\r") else ""
    added = ["", *(indent + line for line in probe_lines(probe))]
    if end < len(lines) and lines[end].strip():
        added.append("")
    return "\n".join([*lines[:end], *(line + ending for line in added), *lines[end:]])


class GardenKeeper:
    """Changes one garden file (`ports.GardenKeeper`)."""

    def __init__(self, path: Path) -> None:
        """Nothing is read or written yet."""
        self._path = path
        self._lock = threading.Lock()

    def add_probe(self, probe: Probe) -> None:
        """Write one more probe into its bed; the file as it was stays beside it, with `.before` at the end of its name.

        Raises QuestionError where the file holds no such bed or the probe does not fit in, or where it cannot be written;
        then nothing is changed.
        """
        with self._lock:
            # Whatever name leads to it, the file itself is changed.
            path = self._path.resolve()
            try:
                text = path.read_bytes().decode("utf-8-sig")
                before = garden_file.parse(text, str(path), {}, path.parent, secrets=False)
                number = next((at for at, bed in enumerate(before.beds) if bed.id == probe.bed_id), None)
                changed = None if number is None else with_probe(text, number, probe)
                if changed is None or not _says(changed, before, probe, path):
                    raise QuestionError(f"{path}: no place was found in it for this probe{_by_hand(probe)}")
                _write(path, changed)
            except GardenFileError as error:
                raise QuestionError(f"{error}\nNothing was changed{_by_hand(probe)}") from error
            except (OSError, UnicodeDecodeError) as error:
                told = error.strerror if isinstance(error, OSError) else error
                raise QuestionError(f"{path} cannot be changed from here ({told}){_by_hand(probe)}") from error


def _says(text: str, before: Garden, probe: Probe, path: Path) -> bool:
    """Whether a text describes that garden with one probe more, and nothing else."""
    beds = [replace(bed, probes=(*bed.probes, probe)) if bed.id == probe.bed_id else bed for bed in before.beds]
    return garden_file.parse(text, str(path), {}, path.parent, secrets=False) == replace(before, beds=tuple(beds))


def _by_hand(probe: Probe) -> str:
    lines = "\n".join(probe_lines(probe))
    return f". Add these lines to the bed {probe.bed_id} by hand:\n{lines}"


def _write(path: Path, text: str) -> None:
    """The whole text or nothing, whatever happens meanwhile."""
    shutil.copy2(path, path.with_name(path.name + ".before"))
    new = path.with_name(f".{path.name}.new")
    with new.open("wb") as file:
        file.write(text.encode())
        file.flush()
        os.fsync(file.fileno())
    shutil.copymode(path, new)
    new.replace(path)
