"""The links under a message, the phones that want the summary alone, and a link store that uses each link once."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest

from collector import garden_file
from collector.advice import links
from collector.advice.links import Links
from collector.calls import Due, Job, Memory, Notice, Used
from collector.errors import CooldepthError, QuestionError
from collector.journal import Deed, Entry
from collector.notices import BROKER, Notices
from collector.settings import NotifySettings
from collector.stores.season import SqliteSeason
from tests.fakes import NOW_MS, FakeClock
from tests.fakes_advice import DAY_MS, FakePhone, bed, garden

PHONE, MAIL = "COOLDEPTH_PHONE_URL", "COOLDEPTH_MAIL_URL"
ADDRESS = "https://garden.example.org"
WATER = Notice(0, NOW_MS, "terrace", Job.WATER, "Terrace bed: water 68 litres", "Six minutes of hose.")


def told(season, notice, *ways, linked=True):
    """What each phone hears of a notice."""
    settings = ways or (NotifySettings("json://x", PHONE),)
    phones = [FakePhone(one.url_env) for one in settings]
    made = Links(ADDRESS, season.link_key()) if linked else None
    notices = Notices(garden(bed(), notify=tuple(settings)), season, phones, FakeClock(), made)
    notices.post([Memory(notice.bed_id, notice.job, Due.DUE, 1, told_ms=1)], [notice], [])
    notices.deliver()
    return [phone.heard for phone in phones]


def test_a_message_ends_with_a_link_that_answers_it_and_one_to_its_bed(season):
    (((_, text),),) = told(season, WATER)
    first, empty, answer, bed_line = text.split("\n")
    assert (first, empty) == ("Six minutes of hose.", "")
    assert bed_line == f"See the bed: {ADDRESS}/bed/terrace"
    token = answer.removeprefix(f"Say that it is done, or can wait: {ADDRESS}/answer?link=")
    ticket = links.read(season.link_key(), token, NOW_MS)
    assert (ticket.notice_id, ticket.until_ms) == (1, NOW_MS + 3 * DAY_MS)


def test_each_message_has_a_link_of_its_own(season):
    ways = (NotifySettings("json://x", PHONE), NotifySettings("json://x", MAIL))
    ((_, first),), ((_, second),) = told(season, WATER, *ways)
    assert first != second


def test_what_is_of_no_bed_leads_to_the_notices_and_answers_nothing(season):
    ((_, text),) = told(season, replace(WATER, bed_id=BROKER))[0]
    assert text.split("\n")[1:] == ["", f"See the notices: {ADDRESS}/notices"]


def test_a_message_of_several_beds_leads_to_what_is_due_and_answers_for_none_of_them(season):
    ((_, text),) = told(season, replace(WATER, job=Job.RUST, title="Terrace bed, Gate bed: look for rust"))[0]
    assert text.split("\n")[1:] == ["", f"See what is due: {ADDRESS}/"]


def test_without_an_address_a_message_holds_no_link(season):
    assert told(season, WATER, linked=False) == [[("Terrace bed: water 68 litres", "Six minutes of hose.")]]


@pytest.mark.parametrize(("job", "heard"), [(Job.WATER, 0), (Job.SHADE, 0), (Job.HOSE, 1), (Job.STAKE, 1)])
def test_a_phone_that_wants_the_summary_alone_hears_at_once_what_cannot_wait(season, job, heard):
    calm, other = told(
        season, replace(WATER, job=job), NotifySettings("json://x", PHONE, summary_only=True), NotifySettings("json://x", MAIL)
    )
    assert (len(calm), len(other)) == (heard, 1)


# ---------------------------------------------------------------- the store


def noticed(season):
    season.record([], [(WATER, [])])
    return season


def test_the_key_is_the_same_for_whoever_asks(season):
    assert season.link_key() == season.link_key()
    assert len(season.link_key()) == links.KEY_BYTES


def test_a_link_is_used_once_and_what_it_answers_is_written_with_it(season):
    noticed(season)
    entry = Entry("terrace", Deed.WATERED, NOW_MS, NOW_MS, amounts={"litres": 68.0})
    assert season.used("ab") is None
    assert season.use("ab", 1, Used(NOW_MS, "done"), done=entry)
    assert not season.use("ab", 1, Used(NOW_MS + 1, "done"), done=entry)
    assert season.used("ab") == Used(NOW_MS, "done")
    assert [one.amounts for one in season.entries(0, 2**62)] == [{"litres": 68.0}]
    assert season.notice(1).seen_ms == NOW_MS


def test_a_link_that_lets_wait_snoozes_and_writes_nothing(season):
    noticed(season)
    assert season.use("cd", 1, Used(NOW_MS, "not again today"), snoozed_ms=NOW_MS + DAY_MS)
    assert season.notice(1).snoozed_ms == NOW_MS + DAY_MS
    assert list(season.entries(0, 2**62)) == []


def test_of_two_taps_at_once_one_counts(tmp_path):
    stores = [SqliteSeason(tmp_path / "garden.db") for _ in range(2)]
    noticed(stores[0])
    entry = Entry("terrace", Deed.WATERED, NOW_MS, NOW_MS)
    with ThreadPoolExecutor(2) as both:
        used = list(both.map(lambda store: store.use("ef", 1, Used(NOW_MS, "done"), done=entry), stores))
    assert sorted(used) == [False, True]
    assert len(stores[0].entries(0, 2**62)) == 1
    for store in stores:
        store.close()


def test_a_link_whose_answer_cannot_be_written_stays_unused(tmp_path):
    store = SqliteSeason(tmp_path / "garden.db")
    noticed(store)
    unknown = Entry("terrace", Deed.WATERED, NOW_MS, NOW_MS, number=99)
    with pytest.raises(QuestionError):
        store.use("ab", 1, Used(NOW_MS, "done"), done=unknown)
    assert store.used("ab") is None
    store.close()


# ---------------------------------------------------------------- the garden file

GARDEN = """
[garden]
name = "Lower terrace"
latitude_deg = 37.1
longitude_deg = -7.6
elevation_m = 60
timezone = "Europe/Lisbon"

[store]
kind = "sqlite"
path = "garden.db"

[[bed]]
id = "terrace"
name = "Terrace bed"
area_m2 = 7.2
soil = "sandy loam"
"""


def read(tmp_path, more):
    path = tmp_path / "garden.toml"
    path.write_text(GARDEN + more)
    return garden_file.read(path, {"COOLDEPTH_PHONE_URL": "json://127.0.0.1"})


def test_the_address_of_the_pages_is_read(tmp_path):
    assert read(tmp_path, "").address is None
    assert read(tmp_path, f'[pages]\naddress = "{ADDRESS}"\n').address == ADDRESS


@pytest.mark.parametrize(
    "address", ["garden.example.org", "ftp://garden.example.org", f"{ADDRESS}/beds", "javascript:alert(1)", ""]
)
def test_what_is_no_address_of_a_server_is_told(tmp_path, address):
    with pytest.raises(CooldepthError, match=r"pages.address"):
        read(tmp_path, f'[pages]\naddress = "{address}"\n')


def test_the_summary_alone_wants_an_hour(tmp_path):
    way = '[[notify]]\nurl_env = "COOLDEPTH_PHONE_URL"\nsummary_only = true\n'
    assert read(tmp_path, way + 'summary_at = "07:00"\n').notify[0].summary_only
    with pytest.raises(CooldepthError, match="summary_at"):
        read(tmp_path, way)
