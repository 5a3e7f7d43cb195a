"""Reasoning about faults: what explains what is seen, and which check tells most."""

from __future__ import annotations

import math
import time
from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitize.trace.circuit import Circuit
from digitize.trace.faults import Fault, Reads, Works, hypotheses, rank, rank_pairs
from digitize.trace.network import Network
from digitize.trace.next_check import DEAD_SHARE, LIVE_SHARE, next_check, reachable
from fixtures.demo import demo_manual
from fixtures.perfect import truth_to_harness
from scripts.small_circuits import small_circuits
from scripts.technician import against_every_order, searches

from . import circuits as c


def circuit(h) -> Circuit:
    return Circuit(Network(h))


def line(points: int) -> Circuit:
    """Battery, a path of wires over splices A, B, C … and a lamp: a linear path in the sense of IT0338."""
    names = [chr(ord("A") + i) for i in range(points)]
    wires = [c.wire("feed", "bat.+", names[0]), c.wire("last", names[-1], "lamp.1"), c.wire("earth", "lamp.2", "g.1")]
    wires += [c.wire(f"{a}{b}", a, b) for a, b in pairwise(names)]
    return circuit(c.harness([c.BATTERY, c.LAMP], wires, splices=[c.splice(n) for n in names], grounds=[c.ground("g")]))


def breaks_between(k: Circuit, names: str) -> list[Fault]:
    """One equally likely break in each wire between neighbours."""
    wanted = {f"{a}{b}" for a, b in pairwise(names)}
    return [
        Fault(f.id, f.kind, f.by, f.key, f.change, 1.0)
        for f in hypotheses(k, k.solve()) if f.kind == "wire open" and f.by in wanted
    ]  # fmt: skip


def test_half_split_gives_the_published_first_checks_e_and_g():
    # US Army Intelligence Center, subcourse IT0338 (1996), linear path A..I: first check at E; good, so next at G.
    k = line(9)
    points = [(n, "*") for n in "ABCDEFGHI"]
    first = next_check(rank(k, [], breaks_between(k, "ABCDEFGHI")), points, lambda _: 1.0)
    assert first is not None
    assert first.key == ("E", "*")
    good = Reads(("E", "*"), 12.5)
    second = next_check(rank(k, [good], breaks_between(k, "ABCDEFGHI")), points, lambda _: 1.0)
    assert second is not None
    assert second.key == ("G", "*")


def test_frame_9_of_the_same_course_splits_at_d():
    # IT0338, frame 9: the midpoint of A..G is D.
    k = line(7)
    check = next_check(rank(k, [], breaks_between(k, "ABCDEFG")), [(n, "*") for n in "ABCDEFG"], lambda _: 1.0)
    assert check is not None
    assert check.key == ("D", "*")


@given(st.integers(3, 14), st.data())
def test_a_break_on_a_line_is_found_in_ceil_log2_checks(points: int, data) -> None:
    names = "".join(chr(ord("A") + i) for i in range(points))
    k = line(points)
    faults = breaks_between(k, names)
    planted = data.draw(st.sampled_from(faults))
    truth = k.solve(planted.change)
    ranking = rank(k, [], faults)
    spots = [(n, "*") for n in names]
    checks = 0
    statements: list[Reads] = []
    while (check := next_check(ranking, spots, lambda _: 1.0)) is not None:
        left = [s for s in ranking.suspects if s.probability > 0.05 and s.fault is not None]
        if len(left) == 1:
            break
        checks += 1
        statements.append(Reads(check.key, k.volts_at(truth, check.key) or 0.0))
        ranking = rank(k, statements, known=ranking)
    assert ranking.suspects[0].fault == planted
    assert checks <= math.ceil(math.log2(len(faults)))


def test_a_load_that_works_on_the_same_feed_clears_the_part_they_share():
    # Common practice, no source.
    k = circuit(c.lit_lamp())
    dark = rank(k, [Works("lamp", False)])
    shared = {"w1", "w2", "w3", "f7", "sw", "bat"}
    before = sum(s.probability for s in dark.suspects if s.fault is not None and s.fault.by in shared)
    both = rank(k, [Works("lamp", False), Works("other", True)])
    after = sum(s.probability for s in both.suspects if s.fault is not None and s.fault.by in shared)
    assert before > 0.2
    assert after < 0.05


def test_two_dark_lamps_point_to_what_they_share():
    k = circuit(c.lit_lamp())
    both = rank(k, [Works("lamp", False), Works("other", False)])
    shared = {"w1", "w2", "w3", "f7", "sw", "bat", "s1", "w8", "g2"}
    # a short of any wire behind the fuse blows it, so shorts stand wherever they may
    named = [s.fault.by for s in both.leading(0.8) if s.fault is not None and s.fault.kind != "wire shorted"]
    assert named
    assert set(named) <= shared


def test_a_dead_reading_behind_a_live_one_leaves_what_lies_between():
    k = circuit(c.lit_lamp())
    ranking = rank(k, [Works("lamp", False), Reads(("k@1", "a1"), 12.5), Reads(("k@1", "b1"), 0.0)])
    assert ranking.suspects[0].fault is not None
    assert ranking.suspects[0].fault.id.startswith("connector open k@1")


def test_a_half_voltage_speaks_for_a_bad_contact_not_a_broken_one():
    k = circuit(c.lit_lamp())
    ranking = rank(k, [Works("lamp", False), Reads(("k@1", "a1"), 12.4), Reads(("k@1", "b1"), 7.3)])
    assert ranking.suspects[0].fault is not None
    assert ranking.suspects[0].fault.kind == "connector bad"


def test_voltage_behind_the_lamp_speaks_for_its_ground():
    k = circuit(c.lit_lamp())
    ranking = rank(
        k, [Works("lamp", False), Reads(("lamp", "1"), 12.5), Reads(("lamp", "2"), 12.5), Reads(("g1", "1"), 12.5)]
    )
    assert ranking.suspects[0].fault is not None
    assert ranking.suspects[0].fault.by == "g1"


def test_a_statement_that_fits_nothing_speaks_for_something_else():
    k = circuit(c.lit_lamp())
    impossible = [Reads(("bat", "+"), 3.0), Reads(("lamp", "1"), 30.0), Reads(("s1", "*"), -9.0), Works("lamp", True)]
    assert rank(k, impossible).suspects[0].fault is None


def test_two_faults_are_found_when_no_single_one_fits():
    k = circuit(c.lit_lamp())
    faults = {f.id: f for f in hypotheses(k, k.solve())}
    broken = faults["wire open w6 1"].change.along_with(faults["ground open g1 1"].change)
    truth = k.solve(broken)
    points = [("s1", "*"), ("other", "1"), ("lamp", "1"), ("lamp", "2"), ("g1", "1")]
    said = [Works("lamp", False), Works("other", False), *(Reads(p, k.volts_at(truth, p) or 0.0) for p in points)]
    single = rank(k, said)
    assert single.suspects[0].fault is None
    pairs = rank_pairs(single, said)
    best = pairs.suspects[0].fault
    assert best is not None
    assert {f.by for f in best.parts} == {"w6", "g1"}
    assert sum(s.probability for s in pairs.suspects) == pytest.approx(1)


def test_probabilities_sum_to_one_and_order_of_statements_does_not_matter():
    k = circuit(c.lit_lamp())
    said = [Works("lamp", False), Works("other", True), Reads(("k@1", "a1"), 12.0)]
    one, other = rank(k, said), rank(k, said[::-1])
    assert sum(s.probability for s in one.suspects) == pytest.approx(1)
    assert [s.fault for s in one.suspects] == [s.fault for s in other.suspects]


def test_the_first_check_after_a_dark_lamp_is_cheap_and_splits():
    k = circuit(c.lit_lamp())
    check = next_check(rank(k, [Works("lamp", False)]))
    assert check is not None
    assert {r.shows for r in check.readings} >= {"live", "dead"}
    assert sum(r.probability for r in check.readings) <= 1 + 1e-9


# a simulated technician


def test_every_planted_fault_that_shows_is_found():
    done = list(searches(circuit(c.lit_lamp())))
    assert len(done) >= 15
    assert [s.planted.id for s in done if not s.found] == []


def test_planted_faults_of_the_demo_manual_are_found() -> None:
    """A sample of all the faults of a whole manual's harness; ``scripts/bench ask`` plants every one."""
    k = circuit(truth_to_harness(demo_manual()[0].truth))
    done = list(searches(k, hypotheses(k, k.solve())[::23]))
    assert len(done) >= 12
    assert [s.planted.id for s in done if not s.found] == []
    assert sum(s.checks for s in done) <= 9 * len(done)  # ceil(log2 529) is 10


def test_the_number_of_checks_is_near_the_optimum_of_an_exhaustive_search():
    """The optimum: the cheapest tree of checks over all ways to split, found by trying every one (own exhaustive search)."""
    for points in (4, 5, 6, 7, 9):
        names = "".join(chr(ord("A") + i) for i in range(points))
        k = line(points)
        faults = breaks_between(k, names)
        spots = [(n, "*") for n in names]
        live = {
            (f.id, p): (k.volts_at(k.solve(f.change), p) or 0.0) > 0.5 * (LIVE_SHARE + DEAD_SHARE) * k.values.battery_volts
            for f in faults for p in spots
        }  # fmt: skip

        @cache
        def optimum(ids: frozenset[str], live=live, spots=tuple(spots)) -> float:
            """Expected number of checks times the number of faults."""
            if len(ids) <= 1:
                return 0.0
            best = math.inf
            for p in spots:
                yes = frozenset(i for i in ids if live[i, p])
                if yes and yes != ids:
                    best = min(best, len(ids) + optimum(yes) + optimum(ids - yes))
            return best

        ours = 0
        for planted in faults:
            truth = k.solve(planted.change)
            ranking = rank(k, [], faults)
            said: list[Reads] = []
            while len([s for s in ranking.suspects if s.fault is not None and s.probability > 0.05]) > 1:
                check = next_check(ranking, spots, lambda _: 1.0)
                assert check is not None
                said.append(Reads(check.key, k.volts_at(truth, check.key) or 0.0))
                ranking = rank(k, said, known=ranking)
                ours += 1
        assert ours <= 1.15 * optimum(frozenset(f.id for f in faults))


def test_on_branching_circuits_too_the_checks_are_as_few_as_can_be():
    """Every planted fault of small circuits, equal effort, against the same exhaustive search."""
    for name, h in small_circuits().items():
        got = against_every_order(circuit(h))
        assert got.faults >= 10, name
        assert got.optimum > 0, name
        assert got.ours <= 1.15 * got.optimum, (name, got)


def test_no_search_is_better_than_the_exhaustive_one_says():
    got = against_every_order(circuit(c.lit_lamp()))
    assert got.ours >= got.optimum


def test_two_hundred_wires_are_ranked_in_a_second(slowness: float):
    lamps = [c.part(f"l{i}", "lamp", "1", "2") for i in range(50)]
    wires = [c.wire("feed", "bat.+", "f7.1"), c.wire("w", "f7.2", "s0")]
    wires += [c.wire(f"a{i}", f"s{i}", f"s{i + 1}") for i in range(49)]
    wires += [c.wire(f"b{i}", f"s{i}", f"l{i}.1") for i in range(50)] + [
        c.wire(f"d{i}", f"l{i}.2", f"g{i}.1") for i in range(50)
    ]
    wires += [c.wire(f"x{i}", f"s{i}", f"s{i + 1}") for i in range(49)]
    fuse = c.part("f7", "fuse", "1", "2", name="7", rating="120A")
    h = c.harness(
        [c.BATTERY, fuse, *lamps], wires, splices=[c.splice(f"s{i}") for i in range(50)], grounds=[c.ground(f"g{i}") for i in range(50)],
    )  # fmt: skip
    assert len(wires) == 200
    k = circuit(h)
    began = time.process_time()
    ranking = rank(k, [Works("l20", False), Works("l21", True)])
    took = time.process_time() - began
    assert ranking.suspects[0].fault is not None
    assert ranking.suspects[0].fault.by in {"l20", "b20", "d20", "g20"}
    assert took <= 1.0 * slowness, (took, slowness)
    assert reachable(ranking)
