"""The desk's answers: what it shows, what it asks first, what it changes."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from digitize.errors import ManualWrong
from digitize.harness.model import PrintedText, WireEnd
from digitize.harness.place import Box, Place
from digitize.store.manual import Manual
from fixtures.small_harness import SCAN_PX_PER_MM, claim, small_harness, with_new_ids
from fixtures.small_manual import build_manual
from review_ui.doubts import queue
from review_ui.server import make_app

from .conftest import PageClient

Open = Callable[..., PageClient]


def test_the_manual_shows_its_sheets_and_their_open_questions(desk: PageClient):
    told = desk.get("/desk/manual")
    assert (told["name"], told["rights"]) == ("MARLOW 9 (invented)", "invented for tests")
    assert [(s["id"], s["title"], s["done"]) for s in told["sheets"]] == [
        ("page_01", "LIGHTING", False), ("page_02", "LIGHTING, REAR", False),
    ]  # fmt: skip
    assert told["sheets"][0]["doubts"] > 0
    assert (told["undo"], told["redo"], told["lost"]) == (None, None, [])


def test_the_overlay_lies_on_the_scan(desk: PageClient):
    wire = desk.wire("w1")
    assert wire is not None
    k = SCAN_PX_PER_MM
    assert wire["lines"] == [[[35 * k - 0.5, 30 * k - 0.5], [69 * k - 0.5, 30 * k - 0.5]]]
    read = desk.get("/desk/sheets/page_01/read")
    assert {c["id"] for c in read["connectors"]} == {"C101@1", "C205@1"}
    assert [w["doubt"] for w in read["wires"] if w["id"] in {"w1", "w2", "w7"}] == ["sure", "doubtful", "unsure"]
    assert [e["other"] for e in read["edges"]] == ["page_02"]


def test_ground_tells_tiles_and_zones(desk: PageClient):
    ground = desk.get("/desk/sheets/page_01/ground")
    assert (ground["width"], ground["height"], ground["levels"]) == (1600, 1120, 3)
    assert [b["label"] for b in ground["zones"]["columns"]] == ["1", "2", "3", "4"]
    tile = desk.http.get("/desk/sheets/page_01/tiles/2/0/0.jpg")
    assert tile.headers["content-type"] == "image/jpeg"
    assert "immutable" in tile.headers["cache-control"]


def test_a_crop_shows_that_part_of_the_scan(desk: PageClient):
    answer = desk.http.get("/desk/sheets/page_01/crop.jpg", params={"box": "105,25,115,35", "margin": "0"})
    crop = cv2.imdecode(np.frombuffer(answer.content, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert crop is not None
    assert crop.shape == (81, 81)
    assert crop[40, 40] < 80, "the dot of the splice is in the middle"
    assert crop[5, 5] > 200


def test_tiles_that_are_missing_are_cut_when_they_are_asked_for(open_desk: Open, tmp_path: Path):
    path = build_manual(tmp_path)
    with Manual.open(path) as manual, manual._file.writing() as db:
        db.execute("DELETE FROM pyramid")
        db.execute("DELETE FROM tile")
    desk = open_desk(path)
    assert desk.get("/desk/sheets/page_02/ground")["levels"] == 3
    assert desk.http.get("/desk/sheets/page_02/tiles/0/0/0.jpg").status_code == 200


def test_the_most_useful_question_comes_first(desk: PageClient):
    asked = desk.get("/desk/doubts", most=100)
    scores = [d["score"] for d in asked["doubts"]]
    assert scores == sorted(scores, reverse=True)
    assert asked["total"] == len(scores)
    first = asked["doubts"][0]
    assert first["kind"] == "connector" or first["score"] >= 0.48
    about = {d["targets"][0]: d for d in asked["doubts"]}
    assert [a["text"] for a in about["w2"]["alternatives"]][:2] == ["L7 1.0 GN-WH", "L1 1.0 GN-WH"]
    assert "L1 1.0 GN-WH" in about["w2"]["why"]
    assert {d["targets"][0] for d in desk.get("/desk/doubts", sheet="page_02")["doubts"]} <= set(about)


def test_what_more_follows_from_is_asked_earlier():
    harness = small_harness()
    doubtful = [w.id for w in harness.wires if w.id in {"w1", "w4"}]
    wires = tuple(
        replace(w, code=claim("X1 0.8 BN", 0.5, (f"{w.id}", 0.4))) if w.id in doubtful else w for w in harness.wires
    )
    asked = [
        d.targets[0] for d in queue(replace(harness, wires=wires)) if d.kind == "code" and d.targets[0] in doubtful
    ]
    assert asked == ["w4", "w1"], "w4 runs over a page edge, so its answer settles the partner too"


def test_the_same_reading_with_the_same_rivals_is_one_question(open_desk: Open):
    harness = small_harness()
    same = claim("L1 0.8 BK", 0.5, ("L7 0.8 BK", 0.4))
    wires = tuple(replace(w, code=same) if w.id in {"w2", "w5", "w7"} else w for w in harness.wires)
    desk = open_desk(harness=replace(harness, wires=wires))
    question = next(d for d in desk.get("/desk/doubts")["doubts"] if d["value"] == "L1 0.8 BK" and d["kind"] == "code")
    assert question["targets"] == ["w2", "w5", "w7"]
    assert len(question["spots"]) == 3
    answer = desk.decide({"do": "code", "targets": question["targets"], "code": "L7 0.8 BK"})
    assert answer.status_code == 200
    assert {desk.wire(w)["text"] for w in ("w2", "w5", "w7")} == {"L7 0.8 BK"}
    desk.post("/desk/undo", {"group": answer.json()["undo"]["group"]})
    assert {desk.wire(w)["text"] for w in ("w2", "w5", "w7")} == {"L1 0.8 BK"}


def test_a_settled_question_is_not_asked_again(desk: PageClient):
    def asked() -> set[str]:
        return {t for d in desk.get("/desk/doubts", most=100)["doubts"] for t in d["targets"] if d["kind"] != "ends"}

    assert {"w2", "w7", "g1", "C205@1"} <= asked()
    desk.decide({"do": "code", "targets": ["w2"], "code": "L1 1.0 GN-WH"})
    desk.decide({"do": "confirm", "targets": ["w7"]})
    desk.decide({"do": "unreadable", "targets": ["g1"]})
    desk.decide({"do": "confirm", "targets": ["C205@1"]})
    assert not {"w2", "w7", "g1", "C205@1"} & asked()


def test_an_answer_tells_what_must_be_drawn_again(desk: PageClient):
    answer = desk.decide({"do": "code", "targets": ["w2"], "code": "L1 1.0 GN-WH"}).json()
    assert [w["text"] for w in answer["changed"]["wires"]] == ["L1 1.0 GN-WH"]
    assert answer["changed"]["components"] == []
    assert "L1 1.0 GN-WH" in answer["says"]
    assert answer["undo"]["says"] == answer["says"]


def test_a_corrected_code_is_taken_apart_by_the_conventions(desk: PageClient, tmp_path: Path):
    desk.decide({"do": "code", "targets": ["w2"], "code": "L1 1.0 GN-WH"})
    told = desk.get("/desk/thing", id="w2")
    assert told["words"] == "lamps, 1.0 mm², green with white tracer"
    assert told["digitized"] == "L7 1.0 GN-WH"
    assert [e["kind"] for e in told["evidence"]] == ["read", "person"]
    assert told["edits"][0]["who"] == "tester"
    with Manual.open(tmp_path / "small.manual") as manual:
        wire = next(w for w in manual.reviewed().harness.wires if w.id == "w2")
    assert wire.parsed is not None
    assert (wire.parsed.colour, wire.parsed.tracer) == ("GN", "WH")


@pytest.mark.parametrize(
    ("text", "kind", "fits", "words"),
    [
        ("L12A 0.8 GN-YE", "code", True, "lamps, 0.8 mm², green with yellow tracer"),
        ("Q12A 0.8 GN-YE", "code", False, "circuit Q, 0.8 mm², green with yellow tracer"),
        ("hello", "code", False, None),
        ("C107", "connector", True, "body"),
        ("107", "connector", False, None),
    ],
)
def test_typing_is_parsed_live(desk: PageClient, text: str, kind: str, fits: bool, words: str | None):
    told = desk.get("/desk/parse", **{"text": text, "as": kind})
    assert (told["fits"], told["words"]) == (fits, words)


def test_a_missing_join_is_drawn_at_a_point_of_the_scan(desk: PageClient):
    k = SCAN_PX_PER_MM
    answer = desk.decide({"do": "splice", "sheet": "page_01", "at": [135 * k, 60 * k]})
    assert answer.status_code == 200
    made = answer.json()["changed"]["splices"]
    assert [s["degree"] for s in made] == [4]
    back = desk.decide({"do": "unsplice", "target": made[0]["id"]})
    assert back.status_code == 200


def test_every_repair_can_be_ordered(desk: PageClient):
    k = SCAN_PX_PER_MM
    orders = [
        {"do": "join", "first": {"wire": "w5", "end": 1}, "second": {"wire": "w6", "end": 0}},
        {"do": "connector", "targets": ["C205@1"], "label": "C205"},
        {"do": "name", "targets": ["lampL"], "name": "SIDE LAMP LH"},
        {"do": "kind", "target": "lampL", "kind": "socket"},
        {"do": "zone", "target": "lampL", "zone": "c4"},
        {"do": "cut", "target": "w3", "sheet": "page_01", "at": [135 * k, 70 * k]},
        {"do": "wire", "sheet": "page_01", "points": [[64 * k, 110 * k], [180 * k, 110 * k]],
         "ends": [{"node": "C205@1", "terminal": "b1"}, None], "code": "Z2 0.8 BK"},
        {"do": "move_end", "target": "w7", "end": 1, "sheet": "page_01", "to": {"node": "C205@1", "terminal": "a1"}, "at": [56 * k, 110 * k]},
        {"do": "partner", "target": "l1", "partner": None},
        {"do": "partner", "target": "l1", "partner": "l1/2"},
        {"do": "accept", "target": "dangling-end/w3/end 2", "reason": "spare wire"},
        {"do": "delete", "target": "w1"},
        {"do": "sheet", "target": "page_01", "done": True},
    ]  # fmt: skip
    for order in orders:
        answer = desk.decide(order)
        assert answer.status_code == 200, (order, answer.text)
    assert desk.get("/desk/manual")["sheets"][0]["done"]
    for _ in orders:
        desk.post("/desk/undo", {"group": desk.get("/desk/manual")["undo"]["group"]})
    assert desk.get("/desk/manual")["undo"] is None
    assert len(desk.get("/desk/sheets/page_01/read")["wires"]) == 7


@pytest.mark.parametrize(
    ("typed", "first"),
    [("C4", ("zone", "C4")), ("park lamp", ("component", "PARK LAMP LH")), ("c101", ("connector", "C101")), ("l6", ("wire", "L6 0.8 BN")),
     ("PARK LAMB LH", ("component", "PARK LAMP LH")), ("rear", ("sheet", "LIGHTING, REAR"))],
)  # fmt: skip
def test_typing_goes_to_a_place(desk: PageClient, typed: str, first: tuple[str, str]):
    found = desk.get("/desk/seek", words=typed)["found"]
    assert (found[0]["kind"], found[0]["text"]) == first
    assert found[0]["box"]


def test_nothing_is_found_for_nothing(desk: PageClient):
    assert desk.get("/desk/seek", words="  ")["found"] == []
    assert desk.get("/desk/seek", words="xyzzy quux")["found"] == []


def test_two_windows_cannot_overwrite_each_other(open_desk: Open, tmp_path: Path):
    path = build_manual(tmp_path)
    one, two = open_desk(path), open_desk(path)
    ground = two.get("/desk/manual")["revision"]
    assert one.decide({"do": "code", "targets": ["w2"], "code": "FIRST"}, ground).status_code == 200
    refused = two.decide({"do": "code", "targets": ["w2"], "code": "SECOND"}, ground)
    assert refused.status_code == 409
    more = refused.json()["error"]["more"]
    assert "SECOND" in more["mine"]
    assert "FIRST" in more["theirs"]
    assert two.wire("w2")["text"] == "FIRST", "the other window sees what counts"


def test_an_edit_whose_object_is_gone_after_a_new_digitization_is_listed(open_desk: Open, tmp_path: Path):
    path = build_manual(tmp_path)
    desk = open_desk(path)
    desk.decide({"do": "code", "targets": ["w7"], "code": "Z7 0.8 BK"})
    desk.decide({"do": "code", "targets": ["w2"], "code": "L1 1.0 GN-WH"})
    again = with_new_ids(small_harness(), shift=1.0)
    with Manual.open(path) as manual:
        manual.save_harness(replace(again, wires=tuple(w for w in again.wires if w.id != "nw7")))
    told = desk.get("/desk/manual")
    assert [(lost["who"], lost["status"]) for lost in told["lost"]] == [("tester", "orphaned")]
    assert desk.wire("nw2")["text"] == "L1 1.0 GN-WH"


def test_hostile_lettering_stays_text(open_desk: Open):
    harness = small_harness()
    nasty = ["<script>alert(1)</script>", "\u202egnp.exe", "A" * 10_000]
    parts = tuple(replace(c, name=claim(t, 0.5)) for c, t in zip(harness.components, nasty, strict=False))
    desk = open_desk(harness=replace(harness, components=(*parts, *harness.components[len(parts) :])))
    answer = desk.http.get("/desk/sheets/page_01/read")
    assert answer.headers["content-type"] == "application/json"
    assert {c["text"] for c in answer.json()["components"]} == set(nasty)
    assert desk.get("/desk/seek", words="<script>")["found"][0]["text"] == nasty[0]


def test_an_edit_is_done_within_150_ms(desk: PageClient, slowness: float):
    desk.get("/desk/manual")
    times = []
    for n in range(8):
        revision = desk.get("/desk/manual")["revision"]
        began = time.perf_counter()
        desk.decide({"do": "code", "targets": ["w2"], "code": f"L{n} 1.0 GN-WH"}, revision)
        times.append(time.perf_counter() - began)
    assert min(times) < 0.15 * slowness, (times, slowness)


def test_a_manual_that_cannot_be_used_is_told_before_the_desk_opens(tmp_path: Path):
    with pytest.raises(ManualWrong):
        make_app(tmp_path / "nowhere.manual")


def test_an_empty_manual_opens_and_has_nothing_to_ask(open_desk: Callable[..., PageClient], tmp_path: Path):
    Manual.create(tmp_path / "empty.manual", "").close()
    desk = open_desk(tmp_path / "empty.manual")
    told = desk.get("/desk/manual")
    assert (told["sheets"], told["doubts"], told["undo"]) == ([], 0, None)
    assert desk.get("/desk/doubts")["doubts"] == []
    assert desk.get("/desk/seek", words="lamp")["found"] == []
    assert desk.http.get("/desk/thing?id=w1").status_code == 404
    assert desk.decide({"do": "code", "targets": ["w1"], "code": "X"}).status_code == 404


def test_a_click_between_two_loose_ends_makes_them_one_wire(desk: PageClient):
    k = SCAN_PX_PER_MM
    answer = desk.decide({"do": "splice", "sheet": "page_01", "at": [110 * k, 45 * k]})
    assert answer.status_code == 200
    assert answer.json()["changed"]["splices"] == []
    joined = desk.wire("w5")
    assert [e["node"] for e in joined["ends"]] == ["s1", "C101@1"]


@pytest.mark.parametrize("first", ["terminal", "loose", "line"])
@pytest.mark.parametrize("second", ["terminal", "loose", "line"])
def test_a_drawn_wire_takes_hold_of_what_its_ends_touch(desk: PageClient, first: str, second: str):
    k = SCAN_PX_PER_MM
    grips = [
        {"terminal": ((64, 110), {"node": "C205@1", "terminal": "b1"}), "loose": ((110, 44), {"wire": "w5", "end": 1}), "line": ((50, 30), {"line": "w1"})},
        {"terminal": ((56, 110), {"node": "C205@1", "terminal": "a1"}), "loose": ((110, 46), {"wire": "w6", "end": 0}), "line": ((135, 75), {"line": "w3"})},
    ]  # fmt: skip
    (a, one), (b, two) = grips[0][first], grips[1][second]
    points = [[a[0] * k, a[1] * k], [90 * k, 80 * k], [b[0] * k, b[1] * k]]
    answer = desk.decide({"do": "wire", "sheet": "page_01", "points": points, "ends": [one, two]})
    assert answer.status_code == 200, answer.text
    read = desk.get("/desk/sheets/page_01/read")
    assert len(read["splices"]) == 1 + (first, second).count("line")
    loose = [e for w in read["wires"] for e in w["ends"] if e["node"] is None]
    assert len(loose) == 2 - (first, second).count("loose")
    undone = desk.post("/desk/undo", {"group": answer.json()["undo"]["group"]})
    assert undone.status_code == 200
    assert len(desk.get("/desk/sheets/page_01/read")["wires"]) == 7


def test_a_lone_page_edge_is_offered_its_likeliest_partners(open_desk: Open):
    harness = small_harness()
    here = replace(harness.links[0], b=None, probability=0.9)
    far = replace(here, id="l2", a=harness.links[0].b, code=claim("L6 0.8 BN", 0.8))
    other = replace(far, id="l3", a=replace(far.a, at=(5.0, 90.0)), code=claim("Z9 3.0 BK", 0.8))
    w4 = next(w for w in harness.wires if w.id == "w4")
    loose = [WireEnd(None, None, p.sheet, at) for p, at in ((w4.paths[0], (195, 60)), (w4.paths[1], (5, 60)))]
    halves = (
        replace(w4, ends=(w4.ends[0], loose[0]), paths=w4.paths[:1]),
        replace(w4, id="w4b", ends=(loose[1], w4.ends[1]), paths=w4.paths[1:], links=("l2",)),
    )
    wires = tuple(sorted((*(w for w in harness.wires if w.id != "w4"), *halves), key=lambda w: w.id))
    desk = open_desk(harness=replace(harness, links=(here, far, other), wires=wires))
    asked = next(d for d in desk.get("/desk/doubts", most=100)["doubts"] if d["targets"] == ["l1"])
    assert [p["id"] for p in asked["partners"]] == ["l2", "l3"]
    desk.decide({"do": "partner", "target": "l1", "partner": "l2"})
    assert [e["node"] for e in desk.wire("w4")["ends"]] == ["C101@1", "C101@2"]


def test_a_boxed_part_takes_the_loose_ends_near_it(desk: PageClient):
    k = SCAN_PX_PER_MM
    box = [[106 * k, 43 * k], [114 * k, 47 * k]]
    answer = desk.decide({"do": "part", "sheet": "page_01", "box": box, "kind": "relay", "name": "LAMP RELAY"})
    assert answer.status_code == 200, answer.text
    part = next(c for c in desk.get("/desk/sheets/page_01/read")["components"] if c["text"] == "LAMP RELAY")
    assert [desk.wire("w5")["ends"][1]["node"], desk.wire("w6")["ends"][0]["node"]] == [part["id"]] * 2
    assert len(part["terminals"]) == 2
    assert desk.get("/desk/thing", id=part["id"])["part"] == "relay"
    assert desk.decide({"do": "remove", "target": part["id"]}).status_code == 200
    assert desk.wire("w5")["ends"][1]["node"] is None


def test_a_boxed_connector_needs_its_id_and_cuts_the_wire(desk: PageClient):
    k = SCAN_PX_PER_MM
    order = {"do": "part", "sheet": "page_01", "box": [[150 * k, 57 * k], [158 * k, 63 * k]], "kind": "connector"}
    assert desk.decide(order).status_code == 400
    assert desk.decide(order | {"name": "C301"}).status_code == 200
    read = desk.get("/desk/sheets/page_01/read")
    oval = next(c for c in read["connectors"] if c["text"] == "C301")
    assert {e["terminal"] for w in read["wires"] for e in w["ends"] if e["node"] == oval["id"]} == {"a1", "b1"}
    assert desk.decide(order | {"name": "C301", "box": [[10, 10], [10, 10]]}).status_code == 400


def test_what_is_printed_near_is_offered_as_an_answer(open_desk: Open):
    def print_at(text: str, role: str, x: float, y: float) -> PrintedText:
        return PrintedText(text, role, Place("page_01", Box(x, y, x + 10, y + 2)), 0.9)

    texts = (
        print_at("SPARE PLUG", "name", 66, 108), print_at("FAR AWAY", "name", 150, 20), print_at("L9 1.0 GN", "code", 85, 27),
        print_at("C2O5", "connector", 57, 109), print_at("Z9 9.9 XX", "code", 85, 50),
    )  # fmt: skip
    desk = open_desk(harness=replace(small_harness(), texts=texts))
    about = {d["targets"][0]: d["nearby"] for d in desk.get("/desk/doubts", most=100)["doubts"]}
    assert about["C205@1"] == ["SPARE PLUG"]
    assert about["w2"] == ["L9 1.0 GN"]
