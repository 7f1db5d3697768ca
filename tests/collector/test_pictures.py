"""Pictures of the journal: what is kept of them, what is refused, and that no name leads out of their folder."""

import io
import random

import pytest
from PIL import Image, PngImagePlugin

from collector.errors import QuestionError, StoreBusyError
from collector.stores import pictures
from collector.stores.pictures import MOST_PIXELS, SIDE_PX, Pictures, redrawn

GPS, MAKER, ORIENTATION = 0x8825, 0x010F, 0x0112  # Exif 2.3, tables 4 and 12


def two_halves(width=60, height=30):
    """Blue on the left, red on the right."""
    picture = Image.new("RGB", (width, height), (200, 30, 30))
    picture.paste((30, 30, 200), (0, 0, width // 2, height))
    return picture


def saved(picture, kind="JPEG", **options):
    file = io.BytesIO()
    picture.save(file, kind, **options)
    return file.getvalue()


def opened(kept):
    return Image.open(io.BytesIO(kept))


def close_to(pixel, wanted):
    return all(abs(one - other) <= 12 for one, other in zip(pixel, wanted, strict=True))


@pytest.fixture
def kept(tmp_path):
    return Pictures(tmp_path / "garden.db")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_what_is_to_be_seen_stays(kind):
    drawn = opened(redrawn(saved(two_halves(), kind)))
    assert (drawn.format, drawn.size) == ("JPEG", (60, 30))
    assert close_to(drawn.getpixel((5, 15)), (30, 30, 200))
    assert close_to(drawn.getpixel((55, 15)), (200, 30, 30))


def test_where_and_by_whom_it_was_taken_does_not_stay():
    exif = Image.Exif()
    exif[MAKER] = "SECRET maker"
    exif.get_ifd(GPS).update({1: "N", 2: (37.0, 6.0, 0.0), 29: "SECRET date"})
    packet = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>SECRET packet</x:xmpmeta>"
    texts = PngImagePlugin.PngInfo()
    texts.add_text("Comment", "SECRET text")
    for upload in (
        saved(two_halves(), exif=exif, comment=b"SECRET comment", xmp=packet, icc_profile=b"SECRET profile"),
        saved(two_halves(), "PNG", exif=exif, pnginfo=texts),
        saved(two_halves(), "WEBP", exif=exif, xmp=packet),
        saved(two_halves()) + b"SECRET behind the end",
    ):
        assert b"SECRET" in upload
        drawn = redrawn(upload)
        assert b"SECRET" not in drawn
        assert b"Exif" not in drawn
        assert dict(opened(drawn).getexif()) == {}


def test_a_picture_taken_on_its_side_is_stood_upright():
    exif = Image.Exif()
    exif[ORIENTATION] = 6  # Exif 2.3, table 4: the row 0 of the file is what is seen at the right
    drawn = opened(redrawn(saved(two_halves(), exif=exif)))
    assert drawn.size == (30, 60)
    assert close_to(drawn.getpixel((15, 5)), (30, 30, 200))
    assert close_to(drawn.getpixel((15, 55)), (200, 30, 30))


def test_a_large_picture_becomes_smaller_and_keeps_its_shape():
    drawn = opened(redrawn(saved(two_halves(6000, 3000), quality=40)))
    assert drawn.size == (SIDE_PX, SIDE_PX // 2)


def test_what_can_be_seen_through_lies_on_white():
    glass = Image.new("RGBA", (20, 20), (0, 0, 0, 0))
    assert close_to(opened(redrawn(saved(glass, "PNG"))).getpixel((10, 10)), (255, 255, 255))


@pytest.mark.parametrize(
    ("upload", "told"),
    [
        (b"", "no picture that can be read"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no picture that can be read"),
        (saved(two_halves(), "GIF"), "want a JPEG, PNG or WebP"),
        (saved(two_halves(), "PDF"), "want a JPEG, PNG or WebP"),
        (saved(two_halves(400, 400))[:900], "no picture that can be read"),
        (b"\xff\xd8" + bytes(pictures.MOST_BYTES), "has 15 MB; want at most 15"),
    ],
)
def test_what_is_no_picture_of_ours_is_refused(kept, tmp_path, upload, told):
    with pytest.raises(QuestionError, match=told):
        kept.keep(upload)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("side", [int(MOST_PIXELS**0.5) + 10, 20_000])
def test_a_small_file_that_would_unfold_to_very_many_pixels_is_refused_by_its_header(side):
    bomb = saved(Image.new("1", (side, side)), "PNG")
    assert len(bomb) < 200_000
    with pytest.raises(QuestionError, match="pixels; want at most 60 million"):
        redrawn(bomb)


@pytest.mark.filterwarnings("ignore::UserWarning")  # Pillow warns of damaged Exif, and goes on
def test_damaged_pictures_are_drawn_or_refused_and_nothing_else():
    chance = random.Random(7)
    ends = {"drawn": 0, "refused": 0}
    for kind in ("JPEG", "PNG", "WEBP"):
        exif = Image.Exif()
        exif[ORIENTATION] = 3
        whole = saved(two_halves(), kind, exif=exif)
        for _ in range(150):
            damaged = bytearray(whole)
            for _ in range(chance.randint(1, 12)):
                damaged[chance.randrange(len(damaged))] = chance.randrange(256)
            try:
                drawn = redrawn(bytes(damaged))
            except QuestionError:
                ends["refused"] += 1
            else:
                ends["drawn"] += opened(drawn).format == "JPEG"
    assert sum(ends.values()) == 450
    assert min(ends.values()) > 20  # else the damage is of one kind only


def test_a_picture_is_found_by_the_name_it_got_and_by_no_other(kept, tmp_path):
    name = kept.keep(saved(two_halves()))
    assert opened(kept.read(name)).size == (60, 30)
    assert [one.name for one in (tmp_path / "garden.db.pictures").iterdir()] == [name]
    assert kept.keep(saved(two_halves())) != name
    (tmp_path / "secret.jpg").write_bytes(b"secret")
    (tmp_path / "garden.db.pictures" / "mine.jpg").write_bytes(b"mine")
    tricks = [
        "../secret.jpg",
        "mine.jpg",
        f"../garden.db.pictures/{name}",
        f"./{name}",
        f"{name}\0",
        f"{name}\n",
        "",
        "..",
        "/etc/passwd",
    ]
    for trick in [*tricks, name.upper(), "0" * 32 + ".jpg"]:
        with pytest.raises(QuestionError, match="there is none of that name"):
            kept.read(trick)
        kept.forget(trick)
    assert (tmp_path / "secret.jpg").exists()
    kept.forget(name)
    with pytest.raises(QuestionError):
        kept.read(name)


def test_all_of_them_together_have_a_bound(kept, monkeypatch):
    upload = saved(two_halves())
    name = kept.keep(upload)
    monkeypatch.setattr(pictures, "MOST_ALL_BYTES", len(kept.read(name)) + 100)
    with pytest.raises(QuestionError, match="the pictures take"):
        kept.keep(upload)


def test_a_folder_that_takes_nothing_is_told_and_may_take_it_later(tmp_path):
    in_the_way = tmp_path / "garden.db.pictures"
    in_the_way.write_text("no folder")
    with pytest.raises(StoreBusyError, match="could not be kept in"):
        Pictures(tmp_path / "garden.db").keep(saved(two_halves()))
    in_the_way.unlink()
    assert Pictures(tmp_path / "garden.db").keep(saved(two_halves()))


def test_only_a_whole_picture_gets_its_name(kept, tmp_path, monkeypatch):
    def fails(_file):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(pictures.os, "fsync", fails)
    with pytest.raises(StoreBusyError, match="No space left on device"):
        kept.keep(saved(two_halves()))
    assert list((tmp_path / "garden.db.pictures").iterdir()) == []
