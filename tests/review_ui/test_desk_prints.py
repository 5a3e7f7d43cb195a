"""Sheets to print from the desk: the way with its scans, and looking for a fault, on pages that run nothing."""

from __future__ import annotations

from html import escape

import pytest
from playwright.sync_api import expect

from digitize.trace.cautions import ALWAYS
from fixtures.small_harness import SCAN_PX_PER_MM

from .browser import Person
from .conftest import PageClient

K = SCAN_PX_PER_MM


def test_the_way_prints_with_the_scan_of_every_hop(desk: PageClient):
    answer = desk.http.get("/desk/way-sheet", params={"of": "lampL", "paper": "letter"})
    assert answer.status_code == 200
    page = answer.text
    assert page.index("Cautions") < page.index('class="strip"')
    assert "L7A 0.8 GN-WH" in page
    assert page.count("<figure>") >= 3
    assert "size: letter portrait" in page


def test_the_fault_sheet_shows_suspects_the_check_and_its_scan(desk: PageClient):
    answer = desk.http.get("/desk/fault", params={"dark": "PARK LAMP LH"})
    assert answer.status_code == 200
    page = answer.text
    assert page.index("Cautions") < page.index("The next check") < page.index("likeliest first")
    assert page.count("<figure>") == 1
    assert ">PARK LAMP LH</textarea>" in page  # what was typed stays, to be added to


def test_what_was_measured_changes_what_is_likely(desk: PageClient):
    def likeliest(**said: str) -> str:
        page = desk.http.get("/desk/fault", params={"dark": "PARK LAMP LH", **said}).text
        table = page[page.index("likeliest first") :]
        return table[table.index("<tr>", table.index("</tr>")) :].split("</tr>")[0]

    assert "burnt out" in likeliest()
    assert "burnt out" not in likeliest(volts="lampL.1=0")


def test_the_sheets_run_nothing_and_fetch_nothing(desk: PageClient):
    for path, query in (("/desk/way-sheet", {"of": "lampL"}), ("/desk/fault", {"dark": "lampL"}), ("/desk/fault", {})):
        answer = desk.http.get(path, params=query)
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src" not in policy
        assert "frame-ancestors 'none'" in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert "<script" not in answer.text
    assert "script-src 'self'" in desk.http.get("/").headers["content-security-policy"]


def test_what_is_typed_cannot_become_markup(desk: PageClient):
    page = desk.http.get("/desk/fault", params={"dark": "</textarea><b>x</b>"}).text
    assert "<b>x</b>" not in page
    assert "&lt;b&gt;x" in page


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"dark": "no such lamp at all"}, "Nothing in the manual is called"),
        ({"volts": "lampL.1"}, "says no voltage"),
        ({"positions": "lampL"}, "says no position"),
        ({"lengths": "w2=1"}, "Nothing was said about what works"),
    ],
)
def test_what_cannot_be_is_told_above_the_form(desk: PageClient, query: dict[str, str], said: str) -> None:
    answer = desk.http.get("/desk/fault", params=query)
    assert answer.status_code == 422
    assert said in answer.text
    assert '<form class="ask"' in answer.text


@pytest.mark.parametrize(
    "query", [{}, {"dark": "PARK LAMP LH"}, {"dark": "no such lamp at all"}], ids=["empty", "told", "wrong"]
)
def test_cautions_stand_before_the_form_that_asks_for_readings_and_the_rights_note_below(
    desk: PageClient, query: dict[str, str]
) -> None:
    page = desk.http.get("/desk/fault", params=query).text
    assert page.count('<section class="cautions">') == 1
    assert page.index('<section class="cautions">') < page.index('<form class="ask"') < page.index("Rights: ")
    for caution in ALWAYS:
        assert escape(caution.text) in page


def test_a_way_of_nothing_is_told(desk: PageClient):
    assert desk.http.get("/desk/way-sheet").status_code == 400
    assert desk.http.get("/desk/way-sheet", params={"of": "no such thing"}).status_code == 404


@pytest.mark.browser
def test_from_a_lamp_to_its_fault_sheet_and_on_with_a_reading(person: Person):
    person.key("h")
    person.settle()
    person.click_scan(150 * K, 90 * K)
    expect(person.page.locator("#slip .value")).to_have_text("PARK LAMP LH")
    person.key("f")
    expect(person.page.locator("#way")).to_contain_text("L7A 0.8 GN-WH")
    with person.page.expect_popup() as opened:
        person.page.locator("#way-sheet").click()
    expect(opened.value.locator(".strip").first).to_be_visible()
    opened.value.close()
    with person.page.expect_popup() as opened:
        person.page.locator("#way-fault").click()
    sheet = opened.value
    expect(sheet.get_by_role("heading", name="The next check")).to_be_visible()
    assert sheet.locator("figure svg image").evaluate("e => e.getBBox().width") > 10
    place = sheet.locator(".check .place").inner_text()
    sheet.get_by_label("The meter reads").fill(f"{place}=0")
    sheet.get_by_role("button", name="Look").click()
    expect(sheet.locator("body")).to_contain_text("reads 0 V against the body")
    sheet.close()
