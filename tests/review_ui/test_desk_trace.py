"""Following a circuit from the desk, on the corrected harness."""

from __future__ import annotations

import builtins
from typing import Any

import pytest
from playwright.sync_api import expect

from fixtures.small_harness import SCAN_PX_PER_MM

from .browser import Person
from .conftest import PageClient

K = SCAN_PX_PER_MM


def test_the_way_of_a_lamp_leads_to_its_fuse_and_to_ground(desk: PageClient):
    told = desk.get("/desk/trace", of="lampL")
    feed = next(w for w in told["ways"] if w["goal"] == "feed")
    ground = next(w for w in told["ways"] if w["goal"] == "ground")
    assert [leg["printed"] for leg in feed["legs"] if leg["kind"] == "wire"] == ["L7A 0.8 GN-WH", "L7 1.0 GN-WH"]
    assert [leg["printed"] for leg in ground["legs"] if leg["kind"] == "wire"] == ["Z1 0.8 BK"]
    assert all(leg["box"] for leg in feed["legs"])
    assert any("manual comes first" in c for c in told["cautions"])
    assert told["rights"] == "invented for tests"


def test_the_way_follows_the_corrections(desk: PageClient):
    desk.decide({"do": "code", "targets": ["w2"], "code": "L1 1.0 GN-WH"})
    desk.decide({"do": "delete", "target": "w7"})
    told = desk.get("/desk/trace", of="PARK LAMP LH")
    assert "L1 1.0 GN-WH" in {leg["printed"] for w in told["ways"] for leg in w["legs"]}
    assert not any(w["found"] for w in told["ways"] if w["goal"] == "ground")


def test_a_way_of_nothing_is_told(desk: PageClient):
    assert desk.http.get("/desk/trace", params={"of": "no such thing"}).status_code == 404
    assert desk.http.get("/desk/trace").status_code == 400


def test_without_the_trace_room_the_desk_says_so(desk: PageClient, monkeypatch: pytest.MonkeyPatch):
    real = builtins.__import__

    def missing(name: str, *rest: Any, **more: Any) -> Any:
        if name.startswith("digitize.trace"):
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", missing)
    answer = desk.http.get("/desk/trace", params={"of": "lampL"})
    assert answer.status_code == 503
    assert answer.json()["error"]["kind"] == "part_missing"


@pytest.mark.browser
def test_a_circuit_is_followed_from_the_desk_and_walked_hop_by_hop(person: Person):
    person.key("h")
    person.settle()
    person.click_scan(150 * K, 90 * K)
    expect(person.page.locator("#slip .value")).to_have_text("PARK LAMP LH")
    person.key("f")
    way = person.page.locator("#way")
    expect(way).to_contain_text("L7A 0.8 GN-WH")
    expect(way.locator(".cautions")).to_contain_text("manual comes first")
    way.locator(".legs button", has_text="Z1 0.8 BK").click()
    person.settle()
    expect(person.page.locator("#slip .value")).to_have_text("Z1 0.8 BK")
    way.get_by_label("Put the way away").click()
    expect(way).to_be_hidden()
