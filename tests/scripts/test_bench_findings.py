"""Promises about the count of true and false findings: the judge is told of planted mistakes and of ours."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitize.harness.checks import find_all, finding
from digitize.harness.claim import Claim
from digitize.harness.model import Harness, Wire
from digitize.legend.codes import parse_code
from digitize.legend.conventions import Conventions
from fixtures.demo import demo_manual
from fixtures.perfect import truth_to_harness
from fixtures.truth import Truth
from scripts.bench_findings import bars, counted, judge

NONE = Conventions()


@pytest.fixture(scope="module")
def truth() -> Truth:
    return demo_manual()[0].truth


def checked(harness: Harness) -> Harness:
    return replace(harness, findings=find_all(harness, lambda code: parse_code(code, NONE)))


def verdicts(harness: Harness, truth: Truth) -> dict[str, set[str]]:
    out: dict[str, set[str]] = {}
    for j in judge(harness, truth, {}, NONE):
        out.setdefault(j.finding.check, set()).add(j.verdict)
    return out


def opened(w: Wire) -> Wire:
    """The wire with its second end in the open."""
    return replace(w, ends=(w.ends[0], replace(w.ends[1], node=None, terminal=None)))


def test_what_was_planted_in_the_manual_is_so(truth):
    told = verdicts(checked(truth_to_harness(truth)), truth)
    assert told["index-zone"] == told["chart-colour"] == {"so"}


def test_a_finding_at_a_wire_that_was_misread_points_at_a_misreading(truth):
    whole = truth_to_harness(truth)
    lamp = next(c for c in truth.components if c.name == "PLATE LAMP")
    broken = replace(
        whole, wires=tuple(opened(w) if any(e.node == lamp.id for e in w.ends) else w for w in whole.wires)
    )
    told = verdicts(checked(broken), truth)
    assert told["dangling-end"] == {"misreading"}


def test_a_finding_where_all_is_read_well_is_false_and_a_bar_is_missed(truth):
    whole = truth_to_harness(truth)
    part = next(c for c in whole.components if c.kind == "motor")
    made = finding("load-without-feed", part.id, "No way leads from it.", "Look.", [part.place])
    judged = judge(replace(whole, findings=(made, made)), truth, {}, NONE)
    assert [j.verdict for j in judged] == ["false", "false"]
    rows = [{"section": "demo", **row} for row in counted(judged, truth)]
    assert len(bars(rows)) == 2, "its kind is never right, and there are two on three pages"
    assert bars([{**rows[0], "so": 20, "false": 1}]) == []


def test_a_name_read_wrongly_makes_its_index_finding_a_misreading(truth):
    whole = truth_to_harness(truth)
    clean = {e.name for e in truth.index if e.zones == e.true_zones}
    part = next(c for c in whole.components if c.name.value in clean and c.kind == "lamp")
    parts = tuple(replace(c, name=Claim("XX", 1.0)) if c.id == part.id else c for c in whole.components)
    texts = tuple(t for t in whole.texts if t.text not in (part.name.value or "").split() and t.text != part.name.value)
    told = verdicts(checked(replace(whole, components=parts, texts=texts)), truth)
    assert told["index-not-drawn"] == {"misreading"}
