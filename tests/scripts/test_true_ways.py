"""The measure of ways: it agrees with the truth of drawn sections, and it sees a way that is wrong."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fixtures.demo import demo_manual
from fixtures.heldout import heldout
from fixtures.perfect import truth_to_harness
from fixtures.scene_random import random_section
from fixtures.truth import Truth
from scripts.bench_ask import bars
from scripts.true_ways import ways_of


@pytest.fixture(scope="module")
def demo() -> Truth:
    return demo_manual()[0].truth


@pytest.mark.parametrize("style", ["plain", "hopped"])
def test_every_load_of_a_random_section_is_followed(style: str) -> None:
    _, drawn, _, _ = random_section(11, style)
    got = ways_of(truth_to_harness(drawn.truth), heldout(drawn.truth))
    assert got.wrong == ()
    assert got.fuse == got.ground == got.feed == got.loads >= 20


def test_every_load_of_the_demo_manual_is_followed(demo: Truth) -> None:
    got = ways_of(truth_to_harness(demo), heldout(demo))
    assert got.wrong == ()
    assert got.fuse == got.ground == got.feed == got.loads >= 30


def test_a_wire_that_was_missed_shows_as_a_way_that_is_wrong(demo: Truth) -> None:
    harness, data = truth_to_harness(demo), heldout(demo)
    lamp = next(t["load"] for t in data["traces"] if len(t["to_fuse"]) > 3)
    cut = tuple(w for w in harness.wires if lamp not in {w.ends[0].node, w.ends[1].node})
    got = ways_of(replace(harness, wires=cut), data)
    assert got.fuse < got.loads
    assert got.wrong


def test_a_missed_bar_is_told():
    rows = [
        {"section": "x", "loads": 3, "fuse": 3, "ground": 2, "feed": 3, "wrong": ["LAMP: ground"], "planted": 4, "found": 3, "missed": ["wire open w1"]},
        {"small circuit": "y", "ratio": 1.2}, {"trace ms, median of 5, 10,000 wires": 21.0},
    ]  # fmt: skip
    told = " ".join(bars(rows))
    for said in ("LAMP: ground", "wire open w1", "1.2 times", "speed"):
        assert said in told
    assert bars([{"small circuit": "y", "ratio": 1.0}]) == []
