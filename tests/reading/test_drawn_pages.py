"""Pages drawn to train and to fit on: what is printed lies where they say, whatever their resolution."""

from __future__ import annotations

import pytest

from fixtures.lettering_training.drawn_pages import drawn_pages
from fixtures.scene_styles import STYLES

FOUND = 0.7


@pytest.mark.parametrize("dpi", sorted({style.dpi for style, _ in STYLES.values()}))
def test_strings_of_a_page_are_found_where_they_were_drawn(dpi: float):
    style = next(name for name, (s, _) in sorted(STYLES.items()) if s.dpi == dpi)
    page = next(iter(drawn_pages(11, style, "clean")))
    found = sum(t.found for t in page.texts)
    assert found > FOUND * page.printed
