"""Sheet → Marks: symbols and lettering are set apart, and what is left of the ink is followed as lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.alike_ways import with_alike_ways, with_named_signs, with_surer_signs
from digitize.ink.bars import bars_as_dots, find_bars, with_bars, without_solid_bars
from digitize.ink.battery_plates import with_all_plates
from digitize.ink.bends import is_bent_line
from digitize.ink.bodies import bodies_of, fitted, is_hollow
from digitize.ink.broken_lines import bars_of, pieces_of, put_back, without_pieces
from digitize.ink.cleared import clear_bodies
from digitize.ink.connector_ids import whole_ids
from digitize.ink.crossed_fields import is_crossed_field, is_ridden
from digitize.ink.cut_coils import with_whole_coils
from digitize.ink.dots import MeetingView, find_dots
from digitize.ink.edge_arrows import find_edge_arrows
from digitize.ink.edge_brackets import find_edge_brackets, parted_at_brackets, without_brackets
from digitize.ink.flag_leads import give_back_beside, lead_into_flags
from digitize.ink.flagged_bodies import with_flags
from digitize.ink.flags import find_flags, whole_labels
from digitize.ink.flags_bare import bare_flags
from digitize.ink.habit import habit_of, ring_habit
from digitize.ink.holes import enclosed_in, holes_of, specks_filled
from digitize.ink.hop_legs import lead_over_legs
from digitize.ink.lettered_boxes import find_lettered_boxes, with_lettered_boxes
from digitize.ink.lettering import Lettering
from digitize.ink.linegraph import graph_of
from digitize.ink.linked_ways import with_linked_ways
from digitize.ink.meetings import decide, mend
from digitize.ink.outlines import find_ovals, find_rectangles
from digitize.ink.rings import fill_rings, find_rings, rings_before_codes, with_rings
from digitize.ink.ruled_connectors import find_ruled_connectors, with_ruled_connectors
from digitize.ink.same_signs import with_one_kind
from digitize.ink.sleeves import find_sleeves, with_sleeves
from digitize.ink.split_bodies import find_split_bodies, is_split_body, lettering_beside, with_split_bodies
from digitize.ink.state import Dot, EdgeSign, Marks, Symbol, TextBlock
from digitize.ink.stubs import code_ends, stubs_at_parts
from digitize.ink.thickness import thickness_of
from digitize.ink.thinning import thin
from digitize.ink.torn_lines import between_lines
from digitize.ink.wire_loops import are_wires_crossing, is_loop_of_wires
from digitize.ink.words_as_signs import is_word, parted_at_signs, without_signs
from digitize.sheet.runs import Patches, patches_of, runs_of
from digitize.sheet.state import PX_PER_MM, Sheet

_MM = PX_PER_MM
_FRAME_LINE = 0.9
"""How far inside the frame's centre line its ink may still reach, mm."""


def draw_marks(
    sheet: Sheet, lettering: Lettering, symbols: tuple[Symbol, ...], seen: MeetingView | None = None
) -> Marks:
    """All marks of a sheet.

    Args:
        sheet: the flat sheet.
        lettering: blocks of text and the mask of their letters.
        symbols: what the symbol detector found; outlines found here are merged with them.
        seen: what the detector believes about any spot, e.g. its chance of being a dot; None when it was not asked.
    """
    sheet = with_inner_frame(sheet)
    lettering = parted_at_signs(without_signs(lettering, symbols), symbols)
    ink = _inside_frame(sheet)
    enclosed = enclosed_in(ink)
    ovals = find_ovals(ink, enclosed)
    split = find_split_bodies(ink, lettering.blocks, enclosed)
    signs = find_edge_brackets(ink, sheet.facts.frame, lettering.blocks)
    lettering = _without_bracket_letters(lettering, signs)
    lettering = replace(lettering, blocks=parted_at_brackets(lettering_beside(lettering.blocks, split), signs))
    arrows = find_edge_arrows(ink, sheet.facts.frame, lettering.blocks)
    symbols = tuple(s for s in symbols if s.taught or not any(a.box.holds(s.box.centre) for a in arrows))
    letters = patches_of(runs_of(lettering.glyphs))
    symbols = with_surer_signs(with_one_kind(symbols, ink, lettering.blocks), ink)
    symbols = with_alike_ways(symbols, ink)
    symbols = with_alike_ways(with_named_signs(symbols, ink, lettering.blocks), ink)
    single, symbols = symbols, with_linked_ways(symbols, ink, lettering.blocks)
    whole = (*split, *(s.box for s in symbols if s not in single))
    symbols = with_lettered_boxes(symbols, find_lettered_boxes(ink, lettering.blocks, enclosed))
    symbols = with_ruled_connectors(symbols, find_ruled_connectors(ink, enclosed))
    del enclosed
    symbols = with_split_bodies(symbols, split)
    cv2.subtract(ink, lettering.glyphs, dst=ink)
    symbols = tuple(s for s in symbols if not is_word(s, ink, letters))
    without_brackets(ink, (*signs, *arrows))
    dashes = letters.only(bars_of(letters))
    dashes.draw(ink)
    rectangles = find_rectangles(ink)
    dashes.draw(ink, 0)
    # before they swallow what they hold: a contact in one of the wires is a switch
    symbols = tuple(s for s in symbols if not are_wires_crossing(s, ink))
    bodies = bodies_of(symbols, ovals, rectangles, lettering.blocks, sheet.facts.frame)
    bodies = tuple(with_all_plates(with_whole_coils(fitted(b, ink), ink), sheet.ink) for b in bodies)
    bodies = tuple(b for b in bodies if not is_hollow(b, sheet.ink))
    bodies = tuple(b for b in bodies if is_split_body(b, whole) or not _is_wires(b, ink, bodies))
    bodies = without_solid_bars(bodies, ink)
    flags = find_flags(sheet.ink, lettering.glyphs, lettering.blocks, [o.box for o in ovals])
    flags += bare_flags(sheet.ink, flags, bodies)
    bodies = with_flags(bodies, flags)
    bodies = with_sleeves(bodies, find_sleeves(ink))
    clear_bodies(ink, bodies)
    give_back_beside(ink, lettering, flags)
    lead_into_flags(ink, sheet.ink, bodies)
    patches, keep, loose = _sorted(ink, bodies, lettering.blocks)
    lines = patches.only(keep).drawn()
    del ink
    pieces = pieces_of(letters, patches, loose & ~keep, [b.box for b in bodies])
    back = put_back(lines, pieces, seen)
    texts = without_pieces(lettering.blocks, pieces, back)
    boxes = [b.box for b in bodies]
    torn = between_lines(lines, letters, np.ones(len(letters), np.bool_), boxes, texts)
    torn |= stubs_at_parts(letters, boxes, code_ends(texts))
    letters.only(torn).draw(lines)
    texts = without_pieces(texts, letters, torn)
    lead_over_legs(lines, letters, ~torn, boxes)
    crumbs = between_lines(lines, patches, loose & ~keep, boxes, texts)
    patches.only(crumbs).draw(lines)
    texts = without_pieces(texts, patches, crumbs)
    bars = find_bars(lines, texts)
    bars_as_dots(lines, bars)
    holes = holes_of(lines)
    rings = rings_before_codes(find_rings(lines, holes), texts, lines)
    specks_filled(lines, holes, seen)
    radius = thickness_of(lines)
    known = [b.dot for b in bars]
    dots = find_dots(lines, radius, seen, known)
    ringed = 0.0 if known else ring_habit(dots, rings)
    if ringed > 0.5:
        fill_rings(lines, rings)
        radius = thickness_of(lines)
        dots = with_rings(find_dots(lines, radius, seen), rings)
    dots = with_bars(dots, bars)
    graph = graph_of(thin(lines), radius)
    at_dots = mend(graph, dots, code_ends(texts))
    dots, at_dots = _on_lines(dots, at_dots)
    habit = habit_of(graph, at_dots, ringed, seen, dots, sheet.facts.frame)
    strokes, meetings = decide(graph, at_dots, dots, habit)
    texts = whole_ids(whole_labels(texts, flags, sheet.ink), bodies, sheet.ink)
    return Marks(sheet, strokes, meetings, dots, ovals, rectangles, bodies, texts, habit, (*signs, *arrows))


def _without_bracket_letters(lettering: Lettering, signs: Sequence[EdgeSign]) -> Lettering:
    """The lettering in which a bracket that was taken for a letter is none: it would be put back as a bit of its wire."""
    if not signs:
        return lettering
    glyphs = lettering.glyphs.copy()
    without_brackets(glyphs, signs)
    return replace(lettering, glyphs=glyphs)


def _is_wires(body: Symbol, ink: NDArray[np.uint8], bodies: tuple[Symbol, ...]) -> bool:
    """True for a body that is nothing but wires: one that turns, several that close round a code or a
    part's name, or that cross each other.
    """
    lines = is_bent_line(body, ink, bodies) or is_loop_of_wires(body, ink) or are_wires_crossing(body, ink)
    return lines or is_crossed_field(body, ink) or is_ridden(body, bodies)


def _on_lines(dots: tuple[Dot, ...], at_dots: dict[int, int]) -> tuple[tuple[Dot, ...], dict[int, int]]:
    """Keep the dots that lie on lines, and number them anew."""
    kept = sorted(set(at_dots.values()))
    return tuple(dots[k] for k in kept), {node: kept.index(k) for node, k in at_dots.items()}


def with_inner_frame(sheet: Sheet, deepest: float = 9.0) -> Sheet:
    """The sheet with its frame on the innermost of several parallel border lines.

    A border line runs along at least 85 % of its side within ``deepest`` mm, about as deep as on the other sides; a
    wire that happens to run along one side does not. A frame that itself lies unevenly inside the outer border is no
    frame: then the outer border is it.
    """
    frame = _even_frame(sheet.facts.frame, sheet.facts.border)
    if frame is None:
        return sheet
    x0, y0, x1, y1 = (round(v * _MM) for v in (frame.x0, frame.y0, frame.x1, frame.y1))
    depth = round(deepest * _MM)
    part = sheet.ink[max(0, y0) : y1, max(0, x0) : x1] > 0
    if min(part.shape) < 4 * depth:
        return sheet
    depths = [_border_lines(lines[: depth + 3], depth) for lines in (part.T, part, part.T[::-1], part[::-1])]
    common = [
        d for d in {round(2 * x) / 2 for side in depths for x in side} if sum(_has(side, d) for side in depths) >= 3
    ]
    if common and max(common) >= 0.5:
        deep = max(common)
        left, top, right, bottom = (max((x for x in side if abs(x - deep) <= 0.8), default=deep) for side in depths)
        frame = Box(frame.x0 + left, frame.y0 + top, frame.x1 - right, frame.y1 - bottom)
    return replace(sheet, facts=replace(sheet.facts, frame=frame))


def _even_frame(frame: Box | None, border: Box | None) -> Box | None:
    if frame is None or border is None:
        return frame
    insets = (frame.x0 - border.x0, frame.y0 - border.y0, border.x1 - frame.x1, border.y1 - frame.y1)
    return frame if max(insets) - min(insets) <= 4.0 else border


def _border_lines(lines: NDArray[np.bool_], depth: int) -> list[float]:
    """How deep, in mm, lines run along a side; ``lines``: bool, rows going inward, columns along the side."""
    near = cv2.dilate(lines.astype(np.uint8), np.ones((7, 1), np.uint8))
    drawn = near[:, depth:-depth].mean(axis=1) > 0.85
    edges = np.diff(np.concatenate([[0], drawn.astype(np.int8), [0]]))
    return [
        float(a + b - 1) / 2 / _MM for a, b in zip(np.nonzero(edges == 1)[0], np.nonzero(edges == -1)[0], strict=True)
    ]


def _has(depths: list[float], at: float) -> bool:
    return any(abs(d - at) <= 0.8 for d in depths)


def _inside_frame(sheet: Sheet) -> NDArray[np.uint8]:
    """A copy of the ink within the frame's inner edge; of all ink when there is no frame."""
    frame = sheet.facts.frame
    if frame is None:
        return sheet.ink.copy()
    inner = frame.grown(-_FRAME_LINE)
    x0, y0, x1, y1 = (max(0, round(v * _MM)) for v in (inner.x0, inner.y0, inner.x1, inner.y1))
    out = np.zeros_like(sheet.ink)
    out[y0:y1, x0:x1] = sheet.ink[y0:y1, x0:x1]
    return out


_STUB = 0.6
"""A piece of line at least so long, mm, that leads straight away from a body may be a wire up to its code."""


def _sorted(
    ink: NDArray[np.uint8], bodies: tuple[Symbol, ...], texts: tuple[TextBlock, ...] = ()
) -> tuple[Patches, NDArray[np.bool_], NDArray[np.bool_]]:
    """The ink as patches; which of them are lines, and which stand clear of bodies.

    Dirt, dashes and crumbs are no lines: no patches under 1.2 mm, none under 2.2 mm where they lie against a body. A short
    bar that leads straight away from a body is one: a wire shows no more of itself before its code begins. Letters that
    ran into each other, alone within a block of lettering, are none.
    """
    patches = patches_of(runs_of(ink))
    x0, y0, x1, y1 = (v / _MM for v in (patches.x0, patches.y0, patches.x1, patches.y1))
    size = np.maximum(x1 - x0, y1 - y0)
    drop = (size < 1.2) | _are_letters(patches, texts)
    near = np.zeros_like(drop)
    flat, upright = _is_bar(x1 - x0, y1 - y0), _is_bar(y1 - y0, x1 - x0)
    stub = np.zeros_like(drop)
    for body in bodies:
        b = body.box.grown(0.8)
        near |= (x0 >= b.x0) & (x1 <= b.x1) & (y0 >= b.y0) & (y1 <= b.y1)
        b = body.box.grown(0.5)
        near |= (x0 <= b.x1) & (x1 >= b.x0) & (y0 <= b.y1) & (y1 >= b.y0)
        b = body.box
        level = (y0 + y1 > 2 * b.y0) & (y0 + y1 < 2 * b.y1)
        above = (x0 + x1 > 2 * b.x0) & (x0 + x1 < 2 * b.x1)
        stub |= flat & level & (_touches(x1, b.x0) & (x1 < b.x0 + 0.2) | _touches(x0, b.x1) & (x0 > b.x1 - 0.2))
        stub |= upright & above & (_touches(y1, b.y0) & (y1 < b.y0 + 0.2) | _touches(y0, b.y1) & (y0 > b.y1 - 0.2))
    drop |= near & (size < 2.2)
    return patches, ~drop | stub, ~near


_LETTERS = 3.0
"""A block of lettering so many times as long as high is no single letter: what else looks like one is often a bend."""


def _are_letters(patches: Patches, texts: tuple[TextBlock, ...]) -> NDArray[np.bool_]:
    """Patches that are letters which ran into each other: as high as a line of lettering, mostly within it, and dense."""
    x0, y0, x1, y1 = (v / _MM for v in (patches.x0, patches.y0, patches.x1, patches.y1))
    dense = patches.area >= 0.22 * patches.width * patches.height
    out = np.zeros(len(patches), np.bool_)
    for text in texts:
        b, flat = text.box.grown(0.3), text.angle in (0, 180)
        high, low = (y1 - y0, text.box.height) if flat else (x1 - x0, text.box.width)
        if (text.box.width if flat else text.box.height) < _LETTERS * low:
            continue
        across = (y0 >= b.y0) & (y1 <= b.y1) if flat else (x0 >= b.x0) & (x1 <= b.x1)
        inside = np.minimum(x1, b.x1) - np.maximum(x0, b.x0) if flat else np.minimum(y1, b.y1) - np.maximum(y0, b.y0)
        out |= across & (inside > 0.7 * (x1 - x0 if flat else y1 - y0)) & (high > 0.7 * low) & (high > 0.9)
    return out & dense


_BROADEST = 1.1
"""A stub is at most so broad, mm: a battery cable on a copy of a copy."""


def _is_bar(along: NDArray[np.float64], across: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Patches that are pieces of straight line: at least ``_STUB`` long and clearly longer than wide."""
    return np.asarray((along >= _STUB) & (along >= 1.6 * across) & (across < _BROADEST), dtype=np.bool_)


def _touches(end: NDArray[np.float64], side: float) -> NDArray[np.bool_]:
    """Ends that lie within 0.6 mm of a body's side: ink is cut off 0.2 to 0.35 mm before it."""
    return np.asarray(np.abs(end - side) <= 0.6, dtype=np.bool_)
