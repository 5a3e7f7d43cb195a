from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitize.harness.edits_check import validate
from digitize.legend.conventions import Conventions
from digitize.wiring.binding import bind
from digitize.wiring.evidence import MOST_SURE
from digitize.wiring.evidence_trust import FEATURES, WEIGHTS, features, logit, weighed
from fixtures.typed_sheets import TypedSheet, chart_page, index_page, read


def sheet() -> TypedSheet:
    return (
        TypedSheet("page_1")
        .part("x", "lamp", (20, 30), read("SIDE LAMP"))
        .part("y", "lamp", (150, 60), read(None))
        .oval("k", (60, 30), read("K1"))
        .splice("s", (100, 30))
        .run("r1", "x.2", "k.a1", read("S1 14 RED"))
        .run("r2", "k.b1", "s", read("S2 14 RED"))
        .run("r3", "s", "y.1", read("S2 14 RED"))
        .run("r4", "s", "(120,90)")
    )


CHART = chart_page("page_2", (read("K1"), read("HERE"), (("1", read("S1 14 RED"), read("S2 14 RED")),)))
INDEX = index_page("page_3", (read("SIDE LAMP"), ("A1",)))


def named(kind: str, id_part: str, *tables) -> dict[str, float]:
    harness = bind([sheet().wiring()], tables, Conventions(), weigh=False)
    [values] = [v for i, v in features(harness)[kind].items() if id_part in i]
    return dict(zip(FEATURES[kind], values, strict=True))


def test_every_kind_has_a_weight_for_each_feature():
    assert {k: len(v) for k, v in FEATURES.items()} == {k: len(v) for k, v in WEIGHTS.items()}


def test_features_say_what_stands_around_an_object():
    assert named("connector", "connector", CHART)["in chart"] == 1.0
    assert named("connector", "connector")["in chart"] == 0.0
    assert named("connector", "connector", CHART)["cavities found"] == 1.0
    assert named("component", "lamp.020", INDEX)["index zone"] == 1.0
    assert named("component", "lamp.020")["index name"] == 0.0
    assert named("component", "lamp.150")["no name"] == 1.0
    splice = named("splice", "splice")
    assert (splice["three meet"], splice["kin"]) == (1.0, pytest.approx(2 / 3))
    harness = bind([sheet().wiring()], [CHART], Conventions(), weigh=False)
    wires = {
        w.code.value or w.id: dict(zip(FEATURES["wire"], features(harness)["wire"][w.id], strict=True))
        for w in harness.wires
    }
    assert wires["S1 14 RED"]["chart agrees"] == 1.0
    assert wires["S1 14 RED"]["splice ends"] == 0.0
    loose = [v for v in wires.values() if v["dangling"]]
    assert len(loose) == 1
    assert loose[0]["no code"] == 1.0


def test_a_wire_that_just_stops_is_believed_less_than_its_neighbour():
    harness = bind([sheet().wiring()], [CHART, INDEX], Conventions())
    loose = [w for w in harness.wires if any(e.node is None for e in w.ends)]
    whole = [w for w in harness.wires if w not in loose]
    assert max(w.probability for w in loose) < min(w.probability for w in whole)


def test_weighing_changes_probabilities_and_nothing_else():
    plain = bind([sheet().wiring()], [CHART, INDEX], Conventions(), weigh=False)
    after = weighed(plain)
    assert validate(after) == []
    assert (
        replace(
            after, wires=plain.wires, components=plain.components, connectors=plain.connectors, splices=plain.splices
        )
        == plain
    )
    assert [replace(w, probability=1.0) for w in after.wires] == [replace(w, probability=1.0) for w in plain.wires]
    assert all(0.0 < w.probability <= MOST_SURE for w in after.wires)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_log_odds_rise_with_the_chance_and_stay_finite(a, b):
    low, high = sorted((a, b))
    assert -6.0 <= logit(low) <= logit(high) <= 6.0
