"""Codes printed level beside upright runs belong to those runs; a code that stands along a level run stays with it."""

from __future__ import annotations

from fixtures.small_page import Page, codes, ends

CODES = ["A1 RD", "B2 GN", "C3 BK"]


def upright_runs(beside: list[str], gap: float = 1.2) -> Page:
    """Upright wires 20 mm apart from lamps above to motors below, each with a code level at its right."""
    page = Page()
    for n, text in enumerate(beside):
        x = 25 + 22 * n
        page.part("lamp", x - 3, 12, x + 3, 18).part("motor", x - 3, 60, x + 3, 66).line((x, 18), (x, 60))
        page.text(f"LAMP {n}", x, 10, "word").text(f"MOTOR {n}", x, 69, "word")
        if text:
            page.text(text, x + gap + 0.75 * len(text), 40)
    return page


def runs_with(page: Page) -> dict[tuple[str, ...], list[str | None]]:
    wiring = page.understood()
    label = {p.id: p.label.value for p in wiring.places}
    return {
        tuple(sorted(str(label.get(e.node or "")) for e in r.ends)): [c.claim.value for c in r.codes]
        for r in wiring.runs
    }


def test_a_level_code_beside_an_upright_run_is_the_runs():
    assert runs_with(upright_runs(CODES)) == {(f"LAMP {n}", f"MOTOR {n}"): [CODES[n]] for n in range(3)}


def test_one_such_code_alone_is_given_to_its_run_with_less_trust():
    wiring = upright_runs(["A1 RD"]).understood()
    assert codes(wiring) == [["A1 RD"]]
    many = upright_runs(CODES).understood()
    assert wiring.runs[0].codes[0].belongs < many.runs[0].codes[0].belongs


def test_where_codes_stand_beside_upright_runs_one_above_a_strange_level_run_is_still_the_upright_ones():
    page = upright_runs([*CODES, "D4 WH"])
    page.part("switch", 77, 48, 83, 54).line((80, 48), (80, 42.4), (108, 42.4), (108, 48)).part(
        "horn", 105, 48, 111, 54
    )
    page.part("module", 8, 22, 14, 27).line((14, 24.5), (104, 24.5)).part("heater", 104, 22, 110, 27)
    page.text("SWITCH", 80, 56, "word").text("HORN", 108, 56, "word").text("E5 YE", 36, 22.8).text("E5 YE", 58, 22.8)
    page.text("MODULE", 11, 20, "word").text("HEATER", 107, 20, "word")
    found = runs_with(page)
    assert found["HEATER", "MODULE"] == ["E5 YE", "E5 YE"]
    assert found["HORN", "SWITCH"] == []
    assert [found[f"LAMP {n}", f"MOTOR {n}"] for n in range(4)] == [[c] for c in (*CODES, "D4 WH")]


def test_a_code_right_above_a_level_run_that_begins_at_an_upright_one_belongs_to_the_level_run():
    page = Page().part("lamp", 10, 37, 18, 43).part("motor", 100, 37, 108, 43).line((18, 40), (100, 40))
    page.text("LEFT", 14, 35, "word").text("RIGHT", 104, 35, "word").text("A1 RD", 36, 38.2)
    page.part("lamp", 27, 10, 33, 16).part("motor", 27, 62, 33, 68).line((30, 16), (30, 62))
    page.text("TOP", 38, 13, "word").text("FOOT", 38, 65, "word")
    wiring = page.understood()
    assert ends(wiring) == [("FOOT", "TOP"), ("LEFT", "RIGHT")]
    assert runs_with(page)["LEFT", "RIGHT"] == ["A1 RD"]


def test_codes_below_level_runs_and_at_the_left_of_upright_ones_are_each_given_to_their_own():
    page = Page()
    for n in range(6):  # level runs 4.5 mm apart, each code in the middle of two, nearer to none
        y = 20 + 4.5 * n
        page.part("lamp", 8, y - 1, 10, y + 1).part("motor", 60, y - 1, 62, y + 1).line((10, y), (60, y))
        page.text(f"A{n + 1} RD", 35, y + 2.25)
    for n in range(6):  # upright runs, codes at their left, read upwards
        x = 80 + 4.5 * n
        page.part("lamp", x - 1, 8, x + 1, 10).part("motor", x - 1, 60, x + 1, 62).line((x, 10), (x, 60))
        page.text(f"B{n + 1} GN", x - 2.25, 35, angle=90)
    found = {c.claim.value: r.points[0] for r in page.understood().runs for c in r.codes}
    assert {k: round((y - 20) / 4.5) + 1 for k, (_, y) in found.items() if k and k[0] == "A"} == {
        f"A{n} RD": n for n in range(1, 7)
    }
    assert {k: round((x - 80) / 4.5) + 1 for k, (x, _) in found.items() if k and k[0] == "B"} == {
        f"B{n} GN": n for n in range(1, 7)
    }
