"""The journal's page: which bed, what, a form with the likely things filled in, and what was written before."""

import base64

import dash
import pytest
from dash import dcc, html

from collector.errors import QuestionError
from collector.journal import AMOUNTS, Deed, Entry
from collector.query import SoilQueries
from collector.units import UnitSystem
from dashboard import ids, theme, view_state
from dashboard.app import make_app
from dashboard.components.journal_form import LABELS, Filled, entry_of, fields, likely
from dashboard.pages import journal
from tests.fakes import NOW_MS, FakeClock
from tests.fakes_advice import HOUR_MS, FakeReadings, FakeSeason, M, bed, every, garden, probe


def asked(*beds, units=UnitSystem.METRIC):
    whole = garden(*(beds or (bed(),)), units=units)
    readings = FakeReadings()
    readings.counts = lambda: None
    readings.say(probe(M, 0.15), 0.19, *every(HOUR_MS, NOW_MS - 30 * HOUR_MS, NOW_MS))
    return SoilQueries(whole, readings, FakeSeason(), FakeClock())


def found(component, kind, **wanted):
    """Components of a kind in a tree, with these properties."""
    here = [component] if isinstance(component, kind) else []
    children = getattr(component, "children", None)
    below = children if isinstance(children, list | tuple) else [children]
    here += [one for child in below if hasattr(child, "to_plotly_json") for one in found(child, kind)]
    return [one for one in here if all(getattr(one, name, None) == value for name, value in wanted.items())]


def words(component):
    """All the text in a tree."""
    if isinstance(component, str):
        return component
    children = getattr(component, "children", None)
    parts = children if isinstance(children, list | tuple) else [children]
    return " ".join(words(one) for one in parts if one is not None)


def values(page):
    """What stands in the fields of a form, by name."""
    kinds = (dcc.Input, dcc.Textarea, dcc.RadioItems)
    return {
        one.id["name"]: getattr(one, "value", None) for kind in kinds for one in found(page, kind) if isinstance(one.id, dict)
    }


def keep(queries, deed, bed_id="terrace", sure="no", **filled):
    tapped = {"type": ids.JOURNAL_KEEP, "sure": sure}
    said, rows = journal.heed(queries, tapped, {"bed": bed_id, "deed": deed.name}, Filled(filled))
    return " ".join(words(one) for one in said), rows


def test_the_page_asks_what_was_done_with_what_is_due_first():
    page = journal.layout(asked())
    links = [one.children for one in found(page, dcc.Link) if one.className != "plain-link"]
    assert links[0] == "Watered"  # the bed is dry
    assert len(set(links)) == len(links) == len(Deed)
    assert "Nothing was written yet." in words(page)


def test_a_form_has_the_amount_that_the_call_names_and_now():
    page = journal.layout(asked(), bed="terrace", deed="watered")
    filled = values(page)
    assert (filled["litres"], filled["when"], filled["note"]) == ("86", "2026-04-13 09:00", "")
    assert [one.children for one in found(page, html.Button, className="tap solid")] == ["Keep"]


def test_several_beds_are_picked_from_and_one_alone_is_not():
    two = journal.layout(asked(bed(), bed(bed_id="gate", name="Gate bed")), deed="counted")
    assert [one.href for one in found(two, dcc.Link, className="pick")] == [
        view_state.journal_href("terrace", "counted"),
        view_state.journal_href("gate", "counted"),
    ]
    assert values(two) == {}
    assert "leaves" in values(journal.layout(asked(), deed="counted"))


def test_an_unknown_deed_or_bed_in_the_address_is_the_page_without_a_form():
    page = journal.layout(asked(bed(), bed(bed_id="gate")), bed="moon", deed="prayed")
    assert values(page) == {}
    assert "What was done" in words(page)


def test_kept_is_said_listed_and_may_be_taken_back():
    queries = asked()
    said, rows = keep(queries, Deed.WATERED, litres="60", when="2026-04-13 07:30", note="by hand")
    assert said.startswith("Kept.  Watered: 60 litres, by hand.")
    (entry,) = queries.journal.entries()
    assert (entry.at_ms, dict(entry.amounts)) == (NOW_MS - round(1.5 * HOUR_MS), {"litres": 60.0})
    assert "Terrace bed, 7:30" in " ".join(words(one) for one in rows)
    said, _ = journal.heed(queries, {"type": ids.JOURNAL_STRIKE, "number": entry.number}, {}, Filled({}))
    assert "Taken back: Watered: 60 litres, by hand." in words(said[0])
    assert queries.journal.entries() == ()


def test_what_is_odd_is_asked_and_kept_at_the_second_tap():
    queries = asked()
    said, _ = keep(queries, Deed.WATERED, litres="2000")
    assert "more than it drinks in a fortnight" in said
    assert "Keep it all the same" in said
    assert queries.journal.entries() == ()
    assert keep(queries, Deed.WATERED, sure="yes", litres="2000")[0].startswith("Kept.")


@pytest.mark.parametrize(
    ("filled", "told"),
    [
        ({"litres": "a lot"}, "How much: 'a lot' is no number."),
        ({"litres": "-4"}, "Litres is -4; want a number from 0"),
        ({"when": "this morning"}, "'this morning' is no time. Write it as 2026-04-13 07:30."),
    ],
)
def test_what_cannot_be_is_told_in_words_and_nothing_is_kept(filled, told):
    queries = asked()
    assert told in keep(queries, Deed.WATERED, **filled)[0]
    assert queries.journal.entries() == ()


def test_an_old_form_is_told_to_be_opened_anew():
    assert "Open this page anew." in keep(asked(), Deed.WATERED, bed_id="gone")[0]


def test_us_units_are_turned_at_the_door_and_back():
    queries = asked(units=UnitSystem.US)
    filled = values(journal.layout(queries, bed="terrace", deed="watered"))
    assert filled["litres"] == "22.7"  # 86 L
    keep(queries, Deed.WATERED, litres="22.8")
    assert queries.journal.entries()[0].amounts["litres"] == pytest.approx(86.3, abs=0.1)
    keep(queries, Deed.COVERED, what="straw", thickness_m="2")
    assert queries.journal.entries()[0].amounts["thickness_m"] == pytest.approx(0.0508)


@pytest.mark.parametrize("deed", Deed)
@pytest.mark.parametrize("units", UnitSystem)
def test_every_form_left_as_it_is_makes_an_entry(deed, units):
    whole = garden(bed(), units=units)
    form = html.Div(fields(deed, whole.beds[0], whole, NOW_MS, {}))
    entry = entry_of(Filled(values(form)), deed, whole.beds[0], whole, NOW_MS)
    assert entry == Entry("terrace", deed, NOW_MS, NOW_MS)


def test_every_amount_has_a_label_and_a_unit_that_goes_there_and_back():
    names = {name for amounts in AMOUNTS.values() for name in amounts}
    assert set(LABELS) == names
    for name in names:
        assert theme.amount_unit(name, UnitSystem.METRIC).factor in (1.0, 0.01)
        assert theme.amount_unit(name, UnitSystem.US).factor > 0.0
    assert theme.amount_unit("yield_kg", UnitSystem.US).factor == pytest.approx(0.45359237)
    assert theme.amount_unit("n_g_m2", UnitSystem.US).factor == pytest.approx(0.11208, rel=1e-4)
    assert theme.amount_unit("diameter_mm", UnitSystem.US).factor == pytest.approx(25.4)


def test_what_is_asked_for_stands_first_and_nothing_stands_twice():
    first, others = likely([Deed.SCAPES_CUT, Deed.WATERED])
    assert first[:2] == (Deed.SCAPES_CUT, Deed.WATERED)
    assert set(first) | set(others) == set(Deed)
    assert len(first) + len(others) == len(Deed)


def test_a_decimal_comma_is_a_point():
    whole = garden(bed())
    entry = entry_of(Filled({"litres": "12,5"}), Deed.WATERED, whole.beds[0], whole, NOW_MS)
    assert entry.amounts == {"litres": 12.5}
    with pytest.raises(QuestionError, match="no number"):
        entry_of(Filled({"litres": "1.2.3"}), Deed.WATERED, whole.beds[0], whole, NOW_MS)


# ---------------------------------------------------------------- pictures


class KeptPictures:
    """A place for pictures in memory."""

    def __init__(self):
        self.kept = {}

    def keep(self, uploaded):
        if not uploaded.startswith(b"picture"):
            raise QuestionError("that file is no picture that can be read; want a JPEG, PNG or WebP.")
        name = f"{len(self.kept)}.jpg"
        self.kept[name] = uploaded
        return name

    def read(self, name):
        if name not in self.kept:
            raise QuestionError(f"picture {name!r}: there is none of that name")
        return self.kept[name]

    def forget(self, name):
        del self.kept[name]


def with_pictures():
    readings = FakeReadings()
    readings.counts = lambda: None
    pictures = KeptPictures()
    whole = garden(bed())
    return SoilQueries(whole, readings, FakeSeason(), FakeClock(), pictures), pictures, whole


def as_sent(content):
    return "data:image/jpeg;base64," + base64.b64encode(content).decode()


def keep_with(queries, picture):
    tapped = {"type": ids.JOURNAL_KEEP, "sure": "yes"}
    about = {"bed": "terrace", "deed": "NOTED"}
    said, rows = journal.heed(queries, tapped, about, Filled({"note": "orange spots"}), picture)
    return " ".join(words(one) for one in said), rows


def test_a_picture_is_kept_with_its_entry_and_shown_with_it():
    queries, pictures, whole = with_pictures()
    said, rows = keep_with(queries, as_sent(b"picture of rust"))
    assert "Kept." in said
    (shown,) = found(html.Div(rows), html.Img)
    assert shown.src == "/journal/picture/0.jpg"
    client = make_app(queries, whole, None).server.test_client()
    answer = client.get(shown.src)
    assert (answer.data, answer.mimetype) == (pictures.kept["0.jpg"], "image/jpeg")
    assert client.get("/journal/picture/other.jpg").status_code == 404


@pytest.mark.parametrize("spoiled", ["data:image/jpeg;base64,%%%", "nonsense", as_sent(b"a letter")])
def test_what_is_no_picture_is_told_and_no_entry_is_written(spoiled):
    queries, pictures, _ = with_pictures()
    said, rows = keep_with(queries, spoiled)
    assert "picture" in said
    assert rows is dash.no_update
    assert pictures.kept == {}
    assert list(queries.journal.entries(limit=5)) == []


def test_the_form_asks_for_a_picture():
    page = journal.layout(asked(), bed="terrace", deed="noted")
    (upload,) = found(page, dcc.Upload)
    assert "image/jpeg" in upload.accept


def test_only_a_form_may_send_as_much_as_a_picture():
    queries, _, whole = with_pictures()
    client = make_app(queries, whole, None).server.test_client()
    large = b"x" * (2 * 1024 * 1024)
    assert client.post("/answer", data=large, content_type="application/x-www-form-urlencoded").status_code == 413
    assert client.post("/_dash-update-component", data=large, content_type="application/json").status_code != 413


def test_a_watering_that_the_probes_saw_is_written_with_its_own_time():
    page = journal.layout(asked(), bed="terrace", deed="watered", at=str(NOW_MS - 3 * HOUR_MS))
    filled = values(page)
    assert filled["when"] == f"{theme.local_time(NOW_MS - 3 * HOUR_MS, 'Europe/Lisbon'):%Y-%m-%d %H:%M}"
    assert filled["litres"] == ""  # how much it was nobody knows but the grower


@pytest.mark.parametrize("at", ["tomorrow", "", "9" * 40, "99999999999999", "-5", "١٢"])
def test_a_moment_in_an_address_that_is_none_is_now(at):
    filled = values(journal.layout(asked(), bed="terrace", deed="watered", at=at))
    assert filled["when"] == f"{theme.local_time(NOW_MS, 'Europe/Lisbon'):%Y-%m-%d %H:%M}"
