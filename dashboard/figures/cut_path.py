"""SVG path data from letters and numbers."""

from __future__ import annotations


def path(*steps: str | float) -> str:
    """Path data: letters stay, numbers are written to a tenth of a pixel and no longer than they need to be."""
    parts: list[str] = []
    for step in steps:
        if isinstance(step, str):
            parts.append(step)
        else:
            number = f"{step:.1f}".removesuffix(".0")
            after_number = bool(parts) and not parts[-1][-1].isalpha()
            parts.append(f" {number}" if after_number and not number.startswith("-") else number)
    return "".join(parts)
