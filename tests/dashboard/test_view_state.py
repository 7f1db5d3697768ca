"""Addresses are parsed once, and none of them is an error."""

import pytest

from dashboard import view_state
from dashboard.view_state import DAY_MS, SPANS_DAYS, bed_address, bed_href, path_after_sign_in


@pytest.mark.parametrize(("asked", "days"), [(None, 3), ("7", 7), ("8", 7), ("9999", 365), ("-4", 3), ("a week", 3), ("", 3)])
def test_a_span_that_is_none_of_ours_becomes_the_nearest(asked: str | None, days: int) -> None:
    assert bed_address("terrace", asked).days == days


def test_unknown_parts_of_an_address_are_left_alone() -> None:
    assert bed_address("terrace", "30", colour="red") == bed_address("terrace", "30")


def test_a_span_ends_now_and_begins_its_days_before() -> None:
    assert bed_address("terrace", "7").span_ms(10 * DAY_MS) == (3 * DAY_MS, 10 * DAY_MS)


def test_an_address_leads_back_to_what_it_was_made_of() -> None:
    assert bed_href("terrace") == "/bed/terrace"
    for days in SPANS_DAYS[1:]:
        assert bed_address("terrace", days).href == f"/bed/terrace?days={days}"


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
