"""Promises of the export files, checked with the programs that others would open them with."""

import csv
import io
import json
import os
from dataclasses import replace
from pathlib import Path

import igraph
import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from digitize.errors import CalledWrongly, ManualWrong, NotFound
from digitize.export import lists, whole
from digitize.export.forms import FORMS, write, write_whole
from digitize.export.graphml import as_graphml
from digitize.harness.model import Harness
from digitize.trace.sheet_pdf import pdf_of
from fixtures.small_harness import small_harness


def rows(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8"))))


def with_name(text: str):
    h = small_harness()
    first = h.components[0]
    named = replace(first, name=replace(first.name, value=text))
    return replace(h, components=(named, *h.components[1:]))


def test_networkx_and_igraph_read_the_graph_with_every_wire(tmp_path: Path):
    h = small_harness()
    write(h, "graphml", tmp_path / "h.graphml")
    graph = nx.read_graphml(tmp_path / "h.graphml")
    assert {d["wire"] for _, _, d in graph.edges(data=True)} == {w.id for w in h.wires}
    assert graph.graph["rights"] == h.rights
    other = igraph.Graph.Read_GraphML(str(tmp_path / "h.graphml"))
    assert other.ecount() == len(h.wires)
    assert other.vcount() == graph.number_of_nodes()
    assert set(other.vs["kind"]) >= {"connector", "splice"}


def test_circuits_through_one_connector_stay_apart_in_the_graph():
    h = small_harness()
    graph = nx.read_graphml(io.BytesIO(as_graphml(h)))
    for k in h.connectors:
        for d in k.places:
            assert all(f"{d.id}/{n}" in graph for n in range(1, len(d.cavities) + 1))


def test_a_wire_that_just_stops_ends_at_a_node_of_its_own():
    h = small_harness()
    loose = replace(h.wires[0], ends=(h.wires[0].ends[0], replace(h.wires[0].ends[1], node=None, terminal=None)))
    graph = nx.read_graphml(io.BytesIO(as_graphml(replace(h, wires=(loose, *h.wires[1:])))))
    assert [d["kind"] for n, d in graph.nodes(data=True) if n.startswith(loose.id + ":")] == ["open"]


def test_the_json_export_obeys_its_published_schema_and_comes_back_the_same():
    h = small_harness()
    content = whole.as_json(h)
    Draft202012Validator.check_schema(whole.published_schema())
    Draft202012Validator(whole.published_schema()).validate(json.loads(content))
    assert whole.from_json(content) == h


def test_the_published_schema_is_the_models_own():
    assert whole.published_schema() == whole.schema()


def test_the_schema_refuses_a_file_without_a_rights_note():
    content = json.loads(whole.as_json(small_harness()))
    del content["rights"]
    assert list(Draft202012Validator(whole.published_schema()).iter_errors(content))


@pytest.mark.parametrize("content", [b"", b"{}", b"[1]", b"\xff\xfe", b'{"format": "something-else"}'])
def test_a_file_that_is_no_export_is_refused_in_one_line(content: bytes):
    with pytest.raises(ManualWrong) as caught:
        whole.from_json(content, "x.json")
    assert "\n" not in caught.value.what
    assert "x.json" in caught.value.what


@given(st.text(max_size=40))
def test_any_printed_name_survives_json_and_the_zone_index(text: str):
    h = with_name(text)
    assert whole.from_json(whole.as_json(h)) == h
    names = [r["name"] for r in rows(lists.zone_index(h))]
    assert not text or text in names or "'" + text in names


def test_the_wire_list_has_one_line_for_each_wire_and_the_documented_columns():
    h = small_harness()
    content = lists.wire_list(h)
    assert tuple(next(csv.reader(io.StringIO(content.decode())))) == lists.WIRE_COLUMNS
    assert sorted(r["wire"] for r in rows(content)) == sorted(w.id for w in h.wires)
    assert all(r["rights"] == h.rights for r in rows(content))


def test_the_zone_index_finds_every_named_part_and_every_drawing_of_a_connector():
    h = small_harness()
    found = rows(lists.zone_index(h))
    assert tuple(found[0]) == lists.ZONE_COLUMNS
    for c in h.components:
        if c.name.value:
            assert any(r["name"] == c.name.value and r["zone"] == (c.place.zone or "") for r in found)
    for k in h.connectors:
        assert sum(r["name"] == k.label.value and r["kind"] == "connector" for r in found) == len(k.places)


def test_no_printed_text_becomes_a_spreadsheet_formula():
    found = rows(lists.zone_index(with_name("=1+2")))
    assert "'=1+2" in [r["name"] for r in found]


def test_an_unknown_form_and_an_unwritable_place_are_said_in_one_line(tmp_path: Path):
    with pytest.raises(NotFound, match="graphml"):
        write(small_harness(), "pdf", tmp_path / "x")
    with pytest.raises(CalledWrongly, match="cannot be written"):
        write(small_harness(), "json", tmp_path / "no" / "such" / "x.json")


def test_an_export_that_fails_leaves_the_old_file_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    target = tmp_path / "h.json"
    write(small_harness(), "json", target)
    old = target.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(CalledWrongly, match="No space left"):
        write(replace(small_harness(), rights="other"), "json", target)
    assert target.read_bytes() == old
    assert [p.name for p in tmp_path.iterdir()] == ["h.json"]


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("empty", [False, True])
def test_every_form_carries_the_rights_note_even_of_a_harness_with_nothing_in_it(form: str, empty: bool):
    whole_one = replace(small_harness(), rights="own copy, private use")
    h = Harness(whole_one.rights, whole_one.sheets) if empty else whole_one
    assert b"own copy, private use" in FORMS[form](h)


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (b"SQLite format 3\0 and the rest", "a manual"), (b"\xff\xd8\xff\xe0 a picture", "a scan"),
        (b"\x89PNG\r\n\x1a\n", "a scan"), (b"II*\0", "a scan"), (b"%PDF-1.4 pages of a book", "a PDF"),
    ],
)  # fmt: skip
def test_no_export_takes_the_place_of_a_manual_or_a_scan(tmp_path: Path, content: bytes, kind: str):
    target = tmp_path / "mine"
    target.write_bytes(content)
    with pytest.raises(CalledWrongly, match=f"is {kind}.* left as it is"):
        write(small_harness(), "wires", target)
    assert target.read_bytes() == content
    assert [p.name for p in tmp_path.iterdir()] == ["mine"]


def test_an_earlier_export_and_an_earlier_sheet_are_written_anew(tmp_path: Path):
    target = tmp_path / "wires.csv"
    for _ in range(2):
        write(small_harness(), "wires", target)
    sheet = tmp_path / "sheet.pdf"
    made = pdf_of("A sheet", "a way", "a4", lambda pen: [pen.text("one", "plain")])
    for content in (made, made + b" again"):
        write_whole(content, sheet)
    assert sheet.read_bytes().endswith(b" again")


def test_a_pipe_is_written_to_and_a_folder_is_left_alone(tmp_path: Path):
    os.mkfifo(tmp_path / "pipe")
    held = os.open(tmp_path / "pipe", os.O_RDWR)
    try:
        write(replace(small_harness(), texts=()), "zones", tmp_path / "pipe")
        assert os.read(held, 1 << 16).startswith(b"name,")
    finally:
        os.close(held)
    assert (tmp_path / "pipe").is_fifo(), "it is still a pipe"
    (tmp_path / "folder").mkdir()
    with pytest.raises(CalledWrongly, match="directory"):
        write(small_harness(), "zones", tmp_path / "folder")
