from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from digitize.harness.claim import Alternative, Claim
from digitize.harness.place import Box
from digitize.wiring.edges import EdgePort, match_edges
from digitize.wiring.evidence import Reading

FRAME = Box(10, 10, 410, 287)


def prior(_: str) -> float:
    return 1e-3


def port(number: int, edge: str, y: float, code: str | None, p: float = 0.95, text: str | None = None) -> EdgePort:
    x = {"left": 10.0, "right": 410.0}.get(edge, 200.0)
    reading = None if code is None else Reading((Alternative(code, p),), 1.0)
    said = None if text is None else Claim(text, 0.9)
    return EdgePort(
        f"page_{number}", number, f"{edge}{number}-{y:g}", edge, (x, y), FRAME, reading, said, (f"{number}",)
    )


def pairs(ports: list[EdgePort]) -> set[tuple[str, str]]:
    return {(ports[m.a].mark, ports[m.b].mark) for m in match_edges(ports, prior)}


def test_codes_pair_edges_that_stand_at_other_heights():
    ports = [
        port(1, "right", 50, "S1 16 RED"), port(1, "right", 60, "S2 16 BLU"),
        port(2, "left", 50, "S2 16 BLU"), port(2, "left", 60, "S1 16 RED"),
    ]  # fmt: skip
    assert pairs(ports) == {("right1-50", "left2-60"), ("right1-60", "left2-50")}


def test_heights_pair_edges_whose_codes_cannot_be_read():
    ports = [
        port(1, "right", 50, None), port(1, "right", 60, None), port(1, "right", 71, None),
        port(2, "left", 50.5, None), port(2, "left", 60.4, None), port(2, "left", 70, None),
    ]  # fmt: skip
    assert pairs(ports) == {("right1-50", "left2-50.5"), ("right1-60", "left2-60.4"), ("right1-71", "left2-70")}


def test_a_misread_code_is_put_right_by_the_whole():
    # The code at right1-60 was misread as that of its neighbour; taking each at its best would pair two to one.
    ports = [
        port(1, "right", 50, "S1 16 RED"), port(1, "right", 60, "S1 16 RED", 0.6),
        port(2, "left", 50, "S1 16 RED"), port(2, "left", 60, "S7 16 RED"),
    ]  # fmt: skip
    assert pairs(ports) == {("right1-50", "left2-50"), ("right1-60", "left2-60")}


def test_an_edge_without_partner_stays_alone():
    ports = [port(1, "right", 50, "S1 16 RED"), port(1, "right", 60, "H2 10 BLU"), port(2, "left", 50, "S1 16 RED")]
    assert pairs(ports) == {("right1-50", "left2-50")}
    assert pairs([port(1, "right", 50, "S1 16 RED"), port(2, "left", 200, "H2 10 BLU")]) == set()


def test_a_wire_goes_on_at_the_next_sheet_not_backwards():
    ports = [port(2, "right", 50, "S1 16 RED"), port(1, "left", 50, "S1 16 RED")]
    assert pairs(ports) == set()
    far = [port(1, "right", 50, "S1 16 RED"), port(2, "left", 50, "S1 16 RED"), port(3, "left", 50, "S1 16 RED")]
    assert pairs(far) == {("right1-50", "left2-50")}


def test_arrows_are_paired_by_code_and_by_the_sheet_they_name():
    ports = [
        port(1, "arrow", 30, "S1 16 RED"), port(3, "arrow", 90, "S1 16 RED"), port(1, "arrow", 40, None, text="TO 2"),
        port(2, "arrow", 70, None, text="FROM 1"),
    ]  # fmt: skip
    assert pairs(ports) == {("arrow1-30", "arrow3-90"), ("arrow1-40", "arrow2-70")}


def test_agreement_of_codes_makes_a_link_surer():
    same = [port(1, "right", 50, "S1 16 RED"), port(2, "left", 50, "S1 16 RED")]
    unread = [replace(p, code=None) for p in same]
    assert match_edges(same, prior)[0].probability > match_edges(unread, prior)[0].probability


heights = st.lists(st.integers(15, 280), min_size=1, max_size=6, unique=True)


@given(heights, heights, st.randoms(use_true_random=False))
def test_no_mark_is_in_two_links_and_order_never_matters(left, right, random):
    ports = [port(1, "right", y, f"S{y % 5} 16 RED") for y in right] + [
        port(2, "left", y, f"S{y % 5} 16 RED") for y in left
    ]
    found = pairs(ports)
    assert len({a for a, _ in found}) == len({b for _, b in found}) == len(found)
    shuffled = list(ports)
    random.shuffle(shuffled)
    assert pairs(shuffled) == found


def test_one_letter_at_both_ends_pairs_them_where_codes_and_heights_do_not():
    ports = [
        port(1, "right", 50, None, text="A"), port(1, "right", 60, None, text="B"),
        port(2, "left", 50.5, None, text="B"), port(2, "left", 60.5, None, text="A"),
    ]  # fmt: skip
    assert pairs(ports) == {("right1-50", "left2-60.5"), ("right1-60", "left2-50.5")}
