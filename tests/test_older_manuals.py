"""Manuals in older ways of naming wires, drawn and read without any conventions: short keys with a table, colours in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from fixtures.compare import compare
from fixtures.keyed import few_looks, keyed, worded
from fixtures.scene_small import small_scene
from fixtures.scene_styles import style_named
from fixtures.sections import write_section
from fixtures.sheets import draw_manual
from fixtures.wear import SCANNED
from scripts.section import digitize_section

SEED = 2


def drawn(folder: Path, scene, style):
    """The two diagram sheets alone, worn as a scan is; and their truth."""
    truth = write_section(draw_manual(scene, style, SEED), folder, SCANNED, SEED)
    for page in truth.pages[2:]:
        next(folder.glob(f"{page.sheet}.*")).unlink()
    return truth


def scored(done, truth):
    mappings = {sheet: facts.mapping for sheet, facts in done.pages.facts.items()}
    return compare(done.harness, truth, mappings).score("wire_codes_exact")


@pytest.mark.parametrize("ruled", [True, False])
def test_a_table_of_keys_on_the_sheets_is_found_and_applied(tmp_path: Path, ruled: bool) -> None:
    scene, style = keyed(few_looks(small_scene("engraved", SEED), 14), style_named("engraved")[0], ruled=ruled)
    truth = drawn(tmp_path, scene, style)
    done = digitize_section(tmp_path, jobs=1)
    assert done.conventions.code.pattern == ("{key}",)
    assert {k: m.gauge for k, m in done.conventions.keys.items()} == {key: size for key, size, _ in scene.keys}
    assert scored(done, truth) >= 0.9
    looks = {w.code: (w.gauge, w.colour) for w in truth.wires}
    words = dict(scene.colours)
    told = [w for w in done.harness.wires if w.parsed is not None and w.parsed.printed in looks]
    assert len(told) >= 0.95 * len(truth.wires)
    for w in told:
        gauge, colour = looks[w.parsed.printed]
        assert (w.parsed.gauge, w.parsed.colour) == (gauge, words[colour].upper())


def test_colours_in_words_are_read_with_their_small_tracers(tmp_path: Path) -> None:
    truth = drawn(tmp_path, *worded(small_scene("set", SEED), style_named("set")[0]))
    done = digitize_section(tmp_path, jobs=1)
    assert done.conventions.code.pattern == ("{colour}{ tracer?}",)
    assert done.conventions.code.tracer_small
    printed = {w.code for w in truth.wires}
    read = [w.code.value for w in done.harness.wires if w.code.value is not None]
    assert any(" " in code and code.rsplit(" ", 1)[1].islower() for code in read)
    assert sum(code in printed for code in read) >= 0.95 * len(read)
