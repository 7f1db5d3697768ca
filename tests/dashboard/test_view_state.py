"""Addresses are parsed once, and none of them is an error."""

import pytest

from dashboard import view_state
from dashboard.view_state import DAY_MS, SPANS_DAYS, USUAL_DAYS, bed_address, bed_href, path_after_sign_in


@pytest.mark.parametrize(("asked", "days"), [(None, 3), ("7", 7), ("8", 7), ("9999", 365), ("-4", 1), ("a week", 3), ("", 3)])
def test_a_span_that_is_none_of_ours_becomes_the_nearest(asked: str | None, days: int) -> None:
    assert bed_address("terrace", asked).days == days


def test_unknown_parts_of_an_address_are_left_alone() -> None:
    assert bed_address("terrace", "30", colour="red") == bed_address("terrace", "30")


def test_a_span_ends_now_and_begins_its_days_before() -> None:
    assert bed_address("terrace", "7").span_ms(10 * DAY_MS) == (3 * DAY_MS, 10 * DAY_MS)


def test_an_address_leads_back_to_what_it_was_made_of() -> None:
    assert bed_href("terrace") == "/bed/terrace"
    for days in set(SPANS_DAYS) - {USUAL_DAYS}:
        assert bed_address("terrace", days).href == f"/bed/terrace?days={days}"


NOW_MS = 1000 * DAY_MS


@pytest.mark.parametrize("asked", [("terrace", 7, 900 * DAY_MS), ("terrace", 3, 5), ("terrace", 1, None)])
def test_an_address_of_the_past_leads_back_too(asked: tuple[str, int, int | None]) -> None:
    address = bed_address(*asked)
    path, _, query = address.href.partition("?")
    parts = dict(part.split("=") for part in query.split("&") if part)
    assert bed_address(path.removeprefix("/bed/"), **parts) == address
    assert (address.bed_id, address.days, address.until_ms) == asked


@pytest.mark.parametrize("until", ["soon", "", "-5", "1e3", "9" * 20, "٣"])
def test_a_moment_that_is_none_is_now(until: str) -> None:
    assert bed_address("terrace", 7, until).until_ms is None


def test_earlier_and_later_go_a_span_at_a_time_and_end_at_now() -> None:
    address = bed_address("terrace", 7)
    earlier = address.earlier(NOW_MS)
    assert earlier.span_ms(NOW_MS) == (NOW_MS - 14 * DAY_MS, NOW_MS - 7 * DAY_MS)
    assert address.later(NOW_MS) is None
    assert earlier.later(NOW_MS) == address
    assert earlier.earlier(NOW_MS).later(NOW_MS) == earlier
    assert bed_address("terrace", 7, NOW_MS + DAY_MS).span_ms(NOW_MS) == (NOW_MS - 7 * DAY_MS, NOW_MS)


def test_a_closer_look_is_the_next_shorter_span_around_the_moment() -> None:
    year = bed_address("terrace", 365)
    month = year.closer(NOW_MS - 100 * DAY_MS, NOW_MS)
    assert month is not None
    assert month.span_ms(NOW_MS) == (NOW_MS - 115 * DAY_MS, NOW_MS - 85 * DAY_MS)
    assert year.closer(NOW_MS - DAY_MS, NOW_MS) == bed_address("terrace", 30)
    assert bed_address("terrace", 1).closer(NOW_MS, NOW_MS) is None


def test_a_bed_id_cannot_leave_its_place_in_the_address() -> None:
    assert bed_href("../x?days=7#é") == "/bed/..%2Fx%3Fdays%3D7%23%C3%A9"


@pytest.mark.parametrize("inside", ["/", "/stakes", "/bed/terrace?days=7"])
def test_signing_in_leads_to_the_page_that_was_asked_for(inside: str) -> None:
    assert path_after_sign_in(inside) == inside


@pytest.mark.parametrize(
    "outside",
    [
        *(
            None,
            "",
            "stakes",
            "https://elsewhere.example/",
            "//elsewhere.example/",
            "/\\elsewhere.example",
            "javascript:alert(1)",
        ),
        *("/\n/elsewhere.example", "\t//elsewhere.example", view_state.SIGN_IN, "/sign-in?next=/sign-in"),
    ],
)
def test_signing_in_never_leads_to_another_site_or_round_in_a_circle(outside: str | None) -> None:
    assert path_after_sign_in(outside) == "/"
