"""Promises about fuse blocks: a fuse is fed by what is drawn to it, and what arrives at it is not what leaves it."""

from digitize.wiring.state import SheetWiring
from fixtures.small_page import Page

ROWS = (24.0, 32.0, 40.0, 48.0)


def block(bar: tuple[float, ...], fed: tuple[float, ...], used: tuple[float, ...], *, mirrored: bool = False) -> Page:
    """Four fuses in a block; ``bar``: rows it joins, ``fed``: rows at which a feed arrives, ``used``: rows a wire leaves."""

    def x(at: float) -> float:
        return 120 - at if mirrored else at

    def level(one: float, other: float, y: float) -> None:
        page.line((x(one), y), (x(other), y))

    page = Page().part("fuse_block", 40, 18, 80, 54)
    for n, y in enumerate(ROWS, start=1):
        page.part("fuse", 57, y - 1.5, 63, y + 1.5)
        page.text(str(n), x(54), y - 1.5, "number").text("15A", x(67), y - 1.5, "number")
        level(48 if y in bar and y not in fed else 40, 57, y)
        level(63, 80, y)
        if y in fed:
            level(8, 40, y)
        if y in used:
            level(80, 112, y)
    if bar:
        page.line((x(48), bar[0] - 0.8), (x(48), bar[-1] + 0.8), width=0.8)
    return page


def feeds(wiring: SheetWiring) -> dict[str | None, list[float]]:
    """Number of each fuse → the levels of the feeds that it is joined to, mm."""
    (outer,) = [p for p in wiring.places if p.kind == "fuse_block"]
    at = {f"^{t.id}": float(round(t.at[1])) for t in outer.terminals}
    return {p.label.value: [at[b] for _, b in p.joined] for p in wiring.places if p.kind == "fuse"}


def test_every_fuse_on_a_bar_hangs_on_the_feed_of_the_bar_however_near_the_next_feed_is():
    wiring = block(ROWS[:3], (24, 48), ROWS).understood()
    assert feeds(wiring) == {"1": [24], "2": [24], "3": [24], "4": [48]}


def test_a_bar_may_be_fed_at_its_far_end():
    wiring = block(ROWS[1:], (24, 48), ROWS).understood()
    assert feeds(wiring) == {"1": [24], "2": [48], "3": [48], "4": [48]}


def test_the_wire_that_arrives_at_a_fuse_which_nothing_leaves_is_its_feed_and_not_its_output():
    wiring = block(ROWS[:3], (24, 48), ROWS[:3]).understood()
    assert feeds(wiring)["4"] == [48]
    (idle,) = [p for p in wiring.places if p.label.value == "4"]
    assert [(t.id, round(t.at[0])) for t in idle.terminals] == [("2", 63)]
    (outer,) = [p for p in wiring.places if p.kind == "fuse_block"]
    (arriving,) = [r for r in wiring.runs if round(r.points[0][1]) == 48]
    assert outer.id in {e.node for e in arriving.ends}
    assert idle.id not in {e.node for e in arriving.ends}


def test_a_bar_at_the_right_feeds_from_the_right():
    wiring = block(ROWS[:3], (24, 48), ROWS, mirrored=True).understood()
    assert feeds(wiring) == {"1": [24], "2": [24], "3": [24], "4": [48]}
    assert all(p.terminals[0].at[0] < 41 for p in wiring.places if p.kind == "fuse")


def test_a_bar_that_two_wires_feed_gives_its_fuses_both():
    wiring = block(ROWS, (24, 48), ROWS).understood()
    assert feeds(wiring)["2"] == [24, 48]


def test_a_fuse_to_which_no_feed_is_drawn_is_joined_to_none():
    wiring = block((), (24, 48), ROWS).understood()  # the leads of two fuses end at the outline, where no wire arrives
    assert feeds(wiring) == {"1": [24], "2": [], "3": [], "4": [48]}
