"""The size of the paper where no file notes a resolution: one guess for the whole manual."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitize.harness.place import Box
from digitize.legend.conventions import Conventions, conventions_from
from digitize.wiring.proposed import proposed_conventions
from digitize.wiring.proposed_size import agrees, to_look_again
from digitize.wiring.state import SheetText, SheetWiring
from fixtures.small_harness import small_facts

A4, A3 = (297.0, 210.0), (420.0, 297.0)


def page(n: int, scan: tuple[int, int], dpi: float, letter_px: float, *, stated: bool = False) -> SheetWiring:
    """A page of ``scan`` px that was looked at as if scanned at ``dpi``, with lettering ``letter_px`` high."""
    facts = replace(
        small_facts(f"page_{n}"), width=scan[0] / dpi * 25.4, height=scan[1] / dpi * 25.4, dpi=dpi, dpi_stated=stated,
        scan_width=scan[0], scan_height=scan[1],
    )  # fmt: skip
    high = letter_px / dpi * 25.4
    texts = tuple(SheetText(f"LAMP {k}", "name", Box(5, 9.0 * k, 40, 9.0 * k + high), 0.95) for k in range(1, 8))
    return SheetWiring(facts, (), (), (), (), (), texts)


def proposed(*pages: SheetWiring, stated: Conventions | None = None) -> Conventions:
    numbers = {p.facts.sheet: n for n, p in enumerate(pages, 1)}
    return proposed_conventions(pages, (), numbers, stated or Conventions()).conventions


@pytest.mark.parametrize(
    ("letter_px", "size"), [(33, A4), (20, (594.0, 420.0))], ids=["2.1 mm on A4", "1.3 mm on A4, 2.5 mm on A2"]
)
def test_a_small_sheet_finely_scanned_is_told_from_a_large_one_by_the_lettering_of_all_pages(letter_px, size):
    pages = [page(n, (4677, 3307), dpi, letter_px) for n, dpi in enumerate((200, 200, 200, 400), 1)]
    assert proposed(*pages).page_size_mm == size


@pytest.mark.parametrize(
    "scans",
    [[(3391, 2432), (3403, 2440), (3419, 2451)], [(3378, 2423), (3417, 2450), (3410, 2446)]],
    ids=["some guessed A4", "others guessed so"],
)
def test_scans_cut_around_their_pages_are_larger_than_the_paper(scans):
    """3378 to 3419 px: A3 at 200 dpi (3307) with a rim, not A4 at 300 dpi (3508) cut short on every page."""
    pages = [page(n, scan, dpi, 18) for n, (scan, dpi) in enumerate(zip(scans, (200, 300, 300), strict=True), 1)]
    assert proposed(*pages).page_size_mm == A3


def test_sheets_in_inches_are_known_by_their_proportions_and_pages_that_stand_stay_upright():
    ledger = [page(n, (5100, 3300), 300, 24) for n in range(3)]
    assert proposed(*ledger).page_size_mm == (431.8, 279.4)
    upright = [page(n, (2480, 3508), 300, 25) for n in range(3)]
    assert proposed(*upright).page_size_mm == (210.0, 297.0)


def test_nothing_is_proposed_where_the_pages_leave_it_open_or_it_is_known():
    scan = (4677, 3307)
    one = page(1, scan, 200, 33)
    assert proposed(one, page(2, scan, 200, 33)).page_size_mm is None, "two pages are no manual"
    noted = page(3, scan, 400, 33, stated=True)
    assert proposed(one, page(2, scan, 200, 33), noted).page_size_mm is None, "a file notes its resolution"
    fold_out = page(3, (9354, 3307), 200, 33)
    assert proposed(one, page(2, scan, 200, 33), fold_out).page_size_mm is None, "the pages are not of one paper"
    odd = [page(n, (3000, 2900), 200, 25) for n in range(3)]
    assert proposed(*odd).page_size_mm is None, "no common sheet is square"
    bare = [replace(page(n, scan, 200, 33), texts=()) for n in range(3)]
    assert proposed(*bare).page_size_mm is None, "nothing printed tells how large the sheet is"
    stated = conventions_from("page_size_mm = [594, 420]")
    three = [page(n, scan, 200, 33) for n in range(3)]
    assert proposed(*three, stated=stated).page_size_mm == (594, 420), "what is stated stays"


def test_pages_looked_at_in_another_size_are_looked_at_again_and_only_then():
    small, large = page(1, (4677, 3307), 400, 33).facts, page(2, (4677, 3307), 200, 33).facts
    said = Conventions(page_size_mm=A4)
    assert agrees(small, A4)
    assert not agrees(large, A4)
    assert to_look_again(Conventions(), said, [small]) is None
    assert to_look_again(Conventions(), said, [small, large]) == said
    assert to_look_again(said, said, [small, large]) is None, "it was stated: the pages were looked at with it"
    assert to_look_again(Conventions(), Conventions(), [small, large]) is None
    other_shape = replace(large, height=large.width)
    assert agrees(other_shape, A4), "a page of another shape never was of that size"
    assert agrees(replace(large, dpi_stated=True), A4)
