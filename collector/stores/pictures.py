"""Pictures of the journal: files beside the database, drawn anew so that only what is to be seen in them is kept.

What a phone puts beside the pixels (place, time, owner, comments) never reaches the disk, and neither does a name that
somebody else chose.
"""

from __future__ import annotations

import io
import os
import re
import secrets
import struct
from pathlib import Path

from collector.advice.season.notebook import MOST_PICTURE_BYTES
from collector.errors import QuestionError, StoreBusyError

# What is taken in, and what is kept of it: enough to know a rust spot by, small enough for a season on a card.
MOST_BYTES = MOST_PICTURE_BYTES
MOST_PIXELS = 60_000_000
SIDE_PX = 2048
KINDS = ("JPEG", "PNG", "WEBP")
# All of them together. Readings share the card, and they come first.
MOST_ALL_BYTES = 2_000_000_000
_QUALITY = 88
_NAME = re.compile(r"[0-9a-f]{32}\.jpg")
_ORIENTATION = 0x0112  # Exif 2.3, table 4


class Pictures:
    """The pictures of one journal (`ports.PictureStore`), for any thread."""

    def __init__(self, database: Path) -> None:
        """They lie in a folder named after the database, which is made with the first of them."""
        self._folder = database.with_name(f"{database.name}.pictures")

    def keep(self, uploaded: bytes) -> str:
        """Keep a picture; gives the name that it is found by.

        Raises QuestionError for what is no picture, or too large, and StoreBusyError where the disk does not take it.
        """
        drawn = redrawn(uploaded)
        name = f"{secrets.token_hex(16)}.jpg"
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            kept_bytes = sum(one.stat().st_size for one in self._folder.iterdir())
            if kept_bytes + len(drawn) > MOST_ALL_BYTES:
                raise QuestionError(
                    f"the pictures take {kept_bytes / 1e9:.1f} GB; want at most {MOST_ALL_BYTES / 1e9:.0f} GB in all."
                    f" Keep the entry without a picture, or move old ones out of {self._folder}."
                )
            self._write(name, drawn)
        except OSError as error:
            raise StoreBusyError(f"the picture could not be kept in {self._folder}: {error.strerror or error}") from error
        return name

    def read(self, name: str) -> bytes:
        """A picture as JPEG. Raises QuestionError where there is none of that name."""
        try:
            if _NAME.fullmatch(name):  # no other name was ever given, and none leads out of the folder
                return (self._folder / name).read_bytes()
        except FileNotFoundError:
            pass
        except OSError as error:
            raise StoreBusyError(f"the picture {name} could not be read: {error.strerror or error}") from error
        raise QuestionError(f"picture {name!r}: there is none of that name; take one that an entry of the journal names")

    def forget(self, name: str) -> None:
        """Throw a picture away that no entry came to name; harmless where it is not there."""
        if _NAME.fullmatch(name):
            (self._folder / name).unlink(missing_ok=True)

    def _write(self, name: str, drawn: bytes) -> None:
        """On disk, whole, before anything names it."""
        unfinished = self._folder / f"{name}.unfinished"
        try:
            with unfinished.open("wb") as file:
                file.write(drawn)
                file.flush()
                os.fsync(file.fileno())
            unfinished.rename(self._folder / name)
        except OSError:
            unfinished.unlink(missing_ok=True)
            raise


def redrawn(uploaded: bytes) -> bytes:
    """The picture upright, as a JPEG of nothing but its pixels, its longer side at most `SIDE_PX` [px].

    Raises QuestionError for what is no JPEG, PNG or WebP, is broken, or is too large to be drawn.
    """
    # Here, for it takes time and memory that a collector with no picture to keep need not spend.
    from PIL import Image, ImageOps

    if len(uploaded) > MOST_BYTES:
        raise QuestionError(
            f"the picture has {len(uploaded) / 1e6:.0f} MB; want at most {MOST_BYTES / 1e6:.0f}. Make it smaller."
        )
    try:
        with Image.open(io.BytesIO(uploaded), formats=KINDS) as picture:
            width, height = picture.size
            if width * height > MOST_PIXELS:  # the header says so, before a pixel is made
                raise QuestionError(
                    f"the picture has {width} by {height} pixels; want at most {MOST_PIXELS / 1e6:.0f} million. Make it smaller."
                )
            picture.draft("RGB", (SIDE_PX, SIDE_PX))  # a large JPEG is read at a part of its size, which spares memory
            turned = picture.getexif().get(_ORIENTATION)
            seen = picture.convert("RGBA" if picture.has_transparency_data else "RGB")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise QuestionError(f"the picture has too many pixels; want at most {MOST_PIXELS / 1e6:.0f} million.") from error
    except (OSError, ValueError, SyntaxError, EOFError, TypeError, IndexError, KeyError, OverflowError, struct.error) as error:
        raise QuestionError("that file is no picture that can be read; want a JPEG, PNG or WebP.") from error
    seen.thumbnail((SIDE_PX, SIDE_PX))
    bare = Image.new("RGB", seen.size, "white")
    bare.paste(seen, mask=seen.getchannel("A") if seen.mode == "RGBA" else None)
    if turned is not None:
        bare.getexif()[_ORIENTATION] = turned
        bare = ImageOps.exif_transpose(bare)
    kept = io.BytesIO()
    Image.frombytes("RGB", bare.size, bare.tobytes()).save(kept, "JPEG", quality=_QUALITY, optimize=True)
    return kept.getvalue()
