"""A dense sheet, a map with hundreds of names say, costs time in proportion to what is on it."""

from __future__ import annotations

import time
from types import SimpleNamespace

import numpy as np

from digitize.harness.place import Box, Point, Polyline
from digitize.ink.state import Marks, Meeting, Stroke, Symbol, TextBlock
from digitize.reading.state import ReadText
from digitize.wiring.letters_in_lines import without_letters
from digitize.wiring.lines import explain
from digitize.wiring.past_letters import past_letters
from digitize.wiring.repairs import worn_crossings

TILE = (24.0, 16.0)
"""Width and height of what stands on the sheet again and again, mm."""


def tile(n: int, x: float, y: float) -> tuple[list[Stroke], list[Meeting], list[TextBlock], list[Symbol]]:
    """A name with a stub before it and behind it, a tee, a letter that hangs on a crossing, a part; ``n``: strokes so far."""

    def at(*points: Point) -> Polyline:
        return tuple((x + px, y + py) for px, py in points)

    lines = [
        at((1, 3), (2.5, 3)), at((12.0, 3), (13.5, 3)),
        at((1, 8), (6, 8)), at((6, 8), (12, 8)), at((6, 8), (6, 11)),
        at((14, 8), (18, 8)), at((18, 8), (23, 8)), at((18, 5), (18, 8)), at((18, 8), (18, 12)), at((18, 8), (19, 9)),
    ]  # fmt: skip
    strokes = [Stroke(line, 0.4) for line in lines]
    tee = Meeting((x + 6, y + 8), "join", 0.9, ((n + 2, 1), (n + 3, 0), (n + 4, 0)))
    arms = ((n + 5, 1), (n + 6, 0), (n + 7, 1), (n + 8, 0), (n + 9, 0))
    five = Meeting((x + 18, y + 8), "cross", 0.9, arms, ((0, 1), (2, 3)))
    name = TextBlock(0, Box(x + 3, y + 2, x + 11.5, y + 4), 0, 0.9)
    return strokes, [tee, five], [name], [Symbol("unknown", Box(x + 20, y + 1, x + 23, y + 4), 0.9)]


def sheet_of(tiles: int) -> Marks:
    """A square of ``tiles`` times ``tiles`` of them."""
    strokes: list[Stroke] = []
    meetings: list[Meeting] = []
    texts: list[TextBlock] = []
    symbols: list[Symbol] = []
    for i in range(tiles):
        for j in range(tiles):
            parts = tile(len(strokes), i * TILE[0], j * TILE[1])
            for all_of, some in zip((strokes, meetings, texts, symbols), parts, strict=True):
                all_of.extend(some)  # type: ignore[arg-type]  # one kind for each
    facts = SimpleNamespace(frame=None)
    ink = np.zeros((int(tiles * TILE[1] * 12), int(tiles * TILE[0] * 12)), np.uint8)
    sheet = SimpleNamespace(facts=facts, ink=ink)
    return Marks(sheet, tuple(strokes), tuple(meetings), (), (), (), tuple(symbols), tuple(texts))  # type: ignore[arg-type]


def names_of(marks: Marks) -> list[ReadText]:
    return [ReadText(k, t.box, 0, "LETTER", "word", 0.95, (), (), ()) for k, t in enumerate(marks.texts)]


def seconds(tiles: int) -> float:
    marks = sheet_of(tiles)
    names = names_of(marks)
    took = []
    for _ in range(3):
        began = time.process_time()
        without_letters(marks, names)
        past_letters(marks)
        worn_crossings(marks)
        explain(marks)
        took.append(time.process_time() - began)
    return min(took)


def test_a_sheet_with_four_times_as_much_on_it_takes_about_four_times_as_long():
    seconds(2)
    assert seconds(20) < 8 * seconds(10)
