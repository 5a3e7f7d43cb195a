"""A harness becomes a neutral prediction: every kind of thing, in scan pixels, with nothing the scorer cannot read."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from digitize.harness.claim import Claim
from digitize.harness.model import Cavity, EdgePoint, Finding, IndexEntry, PageLink, PrintedText
from digitize.harness.place import Box, Place
from fixtures.small_harness import SCAN_PX_PER_MM, small_facts, small_harness
from scripts.neutral_prediction import Pages, prediction


@pytest.fixture
def told() -> dict:
    harness = small_harness()
    place = Place("page_01", Box(10, 10, 30, 14), "A1")
    arrow = PageLink(
        "l2", Claim("K1", 0.8), EdgePoint("page_01", "arrow", (50, 50)), EdgePoint("page_02", "arrow", (60, 60)), 0.7
    )
    alone = PageLink("l3", Claim("K2", 0.8), EdgePoint("page_01", "left", (5, 90)), None, 0.7)
    row = Cavity("1", Claim("L6 0.8 BN", 0.9), Claim(None, 1.0))
    empty = Cavity("2", Claim(None, 1.0), Claim(None, 1.0))
    finding = Finding("f9", "chart-colour", "doubt", "C101", "why", "settle", (place,), cavity="1")
    harness = replace(
        harness,
        links=(*harness.links, arrow, alone),
        index=(IndexEntry(Claim("PARK LAMP LH", 0.9), ("C4",), place, 0.5),),
        connectors=(replace(harness.connectors[0], cavities=(row, empty)), *harness.connectors[1:]),
        findings=(*harness.findings, finding),
        texts=(PrintedText("PARK LAMP", "name", place, 0.9),),
    )
    facts = {sheet: small_facts(sheet) for sheet in ("page_01", "page_02")}
    made = prediction(harness, Pages({"page_01": 1, "page_02": 2}, facts))
    return json.loads(json.dumps(made))


def test_every_list_of_the_format_is_there(told: dict) -> None:
    assert told["format"] == "heldout-prediction-1"
    lists = {"pages", "texts", "nodes", "splices", "wires", "continuations", "index", "chart", "findings"}
    assert lists <= told.keys()
    assert all(told[name] for name in lists)


def test_places_are_in_scan_pixels(told: dict) -> None:
    k = SCAN_PX_PER_MM
    assert told["texts"][0]["box"] == [10 * k - 0.5, 10 * k - 0.5, 30 * k - 0.5, 14 * k - 0.5]
    splice = told["splices"][0]
    assert splice["xy"] == [110 * k - 0.5, 30 * k - 0.5]
    assert (splice["degree"], splice["zone"], splice["page"]) == (3, "A3", 1)


def test_every_oval_of_a_connector_is_a_node_of_its_own_with_one_label(told: dict) -> None:
    ovals = [n for n in told["nodes"] if n["label"] == "C101"]
    assert sorted(n["id"] for n in ovals) == ["C101@1", "C101@2"]
    assert {n["kind"] for n in ovals} == {"connector"}
    kinds = {n["kind"] for n in told["nodes"]}
    assert {"battery", "fuse", "lamp", "connector", "ground", "grommet"} <= kinds
    assert [n["id"] for n in told["nodes"] if n["case_ground"]] == ["battery", "lampR"]


def test_wire_ends_name_their_nodes_and_open_ends_their_place(told: dict) -> None:
    wires = {w["id"]: w for w in told["wires"]}
    assert wires["w2"]["ends"][1] == {"node": "s1", "terminal": None, "page": 1, "xy": [879.5, 239.5]}
    assert wires["w6"]["code"] is None
    assert wires["w6"]["ends"][0]["node"] is None
    assert {p["page"] for p in wires["w4"]["paths"]} == {1, 2}


def test_page_edges_without_a_partner_are_no_links_and_arrows_are(told: dict) -> None:
    links = {c["id"]: c for c in told["continuations"]}
    assert set(links) == {"l1", "l2"}
    assert (links["l1"]["a"]["edge"], links["l1"]["b"]["edge"]) == ("right", "left")
    assert links["l2"]["a"]["edge"] == links["l2"]["b"]["edge"] == "link"


def test_tables_and_scored_findings_are_told(told: dict) -> None:
    assert told["index"] == [{"name": "PARK LAMP LH", "zones": ["C4"], "confidence": 0.45}]
    assert told["chart"] == [{"connector": "C101", "cavity": "1", "a": "L6 0.8 BN", "b": None, "confidence": 0.9}]
    assert told["findings"] == [{"kind": "chart_colour", "subject": "C101", "cavity": "1"}]
