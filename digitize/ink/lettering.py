"""Find the lettering of a sheet: one block for each line of text, not yet read.

Ink is cut into pieces (wires, rules and label outlines removed), pieces link to lines in each reading direction, the better
direction wins a piece, and what stays single is weighed as a single character: zone labels, cavities, terminals, ratings.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.lettering_below import with_signs_below_free
from digitize.ink.lettering_bits import letters_in_bits
from digitize.ink.lettering_box import tight_box
from digitize.ink.lettering_caught import with_caught_letters
from digitize.ink.lettering_columns import earth_bars, equals_signs, is_column
from digitize.ink.lettering_dashed import off_dashes
from digitize.ink.lettering_ends import is_full, trimmed, without_leads
from digitize.ink.lettering_lines import Frame, Line, broken_lines, in_direction, link
from digitize.ink.lettering_pieces import Flags, Ints, Pieces, cut_pieces
from digitize.ink.lettering_rows import strewn
from digitize.ink.lettering_shapes import are_frames, are_on_wires, are_passed_rings, are_sides, are_stout, enclosing
from digitize.ink.lettering_singles import Found, PxBox, alike, singles
from digitize.ink.lettering_stuck import with_slashes_free
from digitize.ink.state import TextBlock
from digitize.sheet.state import PX_PER_MM, Sheet

ACCEPT = 0.5
"""Letters of blocks at least this probable are kept out of the lines."""
FOLD = 0.05
"""Chance of a bit of a fold; below LEAST."""
LEAST = 0.1
"""Blocks less probable than this are not reported."""
SIGN = 0.9
"""Chance of an equals sign among others of its kind."""
TALLEST_BARS = 4.0 * PX_PER_MM
"""A string of nothing but bars is no higher: so large a one has other letters too."""
EDGE = 1.5 * PX_PER_MM
LONG = 4
"""So many letters make a long line."""
TAIL = 0.05
"""How far below the other letters a block reaches for a letter that was cut off a line, in letter heights."""
LEVEL = 0.12
"""So near to the others, in letter heights, top and foot of a letter are that is otherwise too full for one."""
FAR_POINT = 0.8
"""The point behind a sentence stands at most so far from its last letter, in letter heights."""
LEADER_WINDOW, LEADER_POINTS = 5.0, 3
"""So many points within so many letter heights behind a line are a leader (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Lettering:
    """The text blocks of a sheet, ids are positions; ``glyphs``: uint8 (H, W), 255 on the letters of accepted blocks."""

    blocks: tuple[TextBlock, ...]
    glyphs: NDArray[np.uint8]


def find_lettering(sheet: Sheet) -> Lettering:
    """Every line of lettering of ``sheet`` in the directions 0, 90 and, with evidence, 270 degrees.

    Recall comes first: a doubtful single character is reported with a low probability. ``glyphs`` only holds blocks of
    probability ACCEPT or more.
    """
    pieces, found = _found(with_signs_below_free(with_slashes_free(cut_pieces(sheet.ink))))
    glyphs = np.zeros(sheet.ink.shape, np.uint8)
    taken = np.zeros(len(pieces), np.bool_)
    blocks = []
    for line, members, box, probability in found:
        if probability < LEAST:
            continue
        if probability >= ACCEPT:
            taken[members] = True
        blocks.append((Box(*(v / PX_PER_MM for v in tight_box(sheet.grey, box))), line.angle, probability))
    if len(pieces):
        glyphs.ravel()[pieces.pixels[taken[pieces.owner]]] = 255
    blocks.sort(key=lambda b: (round(b[0].y0, 1), b[0].x0, b[1]))
    return Lettering(tuple(TextBlock(k, b, a, p) for k, (b, a, p) in enumerate(blocks)), glyphs)


def _found(pieces: Pieces) -> tuple[Pieces, list[Found]]:
    """The lines of lettering and the signs among the pieces; and the pieces, with letters cut out of them that bends caught."""
    if not len(pieces):
        return pieces, []
    pieces, broken = off_dashes(pieces, broken_lines(pieces))
    usable = ~broken & ~pieces.sliver & ~_outlines(pieces) & _inland(pieces)
    sides = are_sides(pieces)
    usable &= ~(sides | are_stout(pieces))
    signs = equals_signs(pieces)
    for sign in signs:
        usable[sign] = False
    usable[earth_bars(pieces)] = False
    whole = usable.copy()
    large = pieces.lines
    # from now on they are lines, as the others; a splice that stands between two codes parts them too
    large.ravel()[pieces.pixels[(sides | (pieces.sliver & ~pieces.free))[pieces.owner]]] = 255
    kept: list[Line] = []
    for last in (False, False, True):
        views = [in_direction(pieces, angle, usable) for angle in (0, 90)]
        linked = [(f, n) for f in views for n in link(f, large) if not is_column(f, n)]
        lines = [trimmed(pieces, f, without_leads(pieces, f, n)) for f, n in linked]
        sure = np.array([n.height for n in [*kept, *lines] for _ in n.letters if len(n.letters) > 3])
        fresh = _settled(lines, usable, sure, last=last)
        if not fresh:
            break
        kept += fresh
    pieces, kept = with_caught_letters(pieces, kept, whole)
    more = np.zeros(len(pieces) - len(whole), np.bool_)
    whole, broken, slender = np.append(whole, more), np.append(broken, more), pieces.slender
    frames = {a: in_direction(pieces, a, whole) for a in (0, 90)}
    out: list[Found] = []
    spare = whole.copy()
    for line in kept:
        spare[list(line.members)] = False
    kept = [n for a in (0, 90) for n in _mended([k for k in kept if k.angle == a], frames[a], spare)]
    heights = np.array([n.height for n in kept for _ in n.letters if len(n.letters) > 1])
    for line in sorted(kept, key=lambda n: -n.score):
        f = frames[line.angle]
        members, box = _with_marks(pieces, f, line, spare)
        spare[members] = False
        probability = _line_probability(pieces, line, f, heights, slender)
        turned = replace(line, angle=270) if _stands_on_left(f, members, line) else line
        out.append((turned, members, box, probability))
    out += [_sign(pieces, sign) for sign in signs]
    return pieces, _without_strewn(out, singles(pieces, frames[0], spare, heights, broken, slender))


def _outlines(pieces: Pieces) -> Flags:
    """Pieces that are the outline of something, with what it holds where that touches it."""
    return enclosing(pieces) | are_frames(pieces) | are_passed_rings(pieces) | are_on_wires(pieces)


def _without_strewn(lines: list[Found], singles: list[Found]) -> list[Found]:
    """All that was found; the bits of a fold are hardly lettering."""
    flat = [b[3] - b[1] <= 0.75 * PX_PER_MM and b[2] - b[0] > 1.2 * (b[3] - b[1]) for _, _, b, _ in singles]
    dashes = [s[2] for s, dash in zip(singles, flat, strict=True) if dash]
    signs = [s[2] for s, dash in zip(singles, flat, strict=True) if not dash and s[3] >= ACCEPT]
    bits = iter(strewn(dashes, [n[2] for n in lines] + signs))
    kept = [
        (line, members, box, min(chance, FOLD) if dash and next(bits) else chance)
        for (line, members, box, chance), dash in zip(singles, flat, strict=True)
    ]
    return lines + kept


def _inland(pieces: Pieces) -> Flags:
    """Nothing is lettered within EDGE of the sheet's sides; dirt and the scanner's lid are there."""
    rows, columns = pieces.lines.shape
    inland = (pieces.x0 >= EDGE) & (pieces.y0 >= EDGE) & (pieces.x1 <= columns - EDGE) & (pieces.y1 <= rows - EDGE)
    return np.asarray(inland, dtype=np.bool_)


def _settled(lines: list[Line], usable: Flags, heights: NDArray[np.float64], *, last: bool) -> list[Line]:
    """The best lines that do not share letters; their pieces are no longer ``usable`` (changed in place).

    Lines of few letters count less when no long line of the sheet has letters of that height. What a better line left of a
    long one is looked at again before any of it is a line of its own, but for the ``last`` time.
    """

    def worth(line: Line) -> float:
        return line.score * (1.0 if len(line.letters) > 3 else 0.3 + 0.7 * alike(heights, line.height))

    out = []
    left = np.zeros(len(usable), np.bool_)
    for line in sorted(lines, key=lambda n: (-worth(n), n.angle, n.u0, n.v0)):
        members = list(line.members)
        if usable[members].all() and (last or len(line.letters) >= LONG or not left[members].any()):
            usable[members] = False
            out.append(line)
        elif len(line.letters) >= LONG:
            left[members] = True
    return out


def _mended(lines: list[Line], f: Frame, spare: Flags) -> list[Line]:
    """Join lines that stand on one foot line where the gap between them is full of broken bits of letters."""
    lines = sorted(lines, key=lambda n: n.u0)
    out: list[Line] = []
    for line in lines:
        for k, left in enumerate(out):
            h = max(left.height, line.height)
            if not 0 < line.u0 - left.u1 < 3.5 * h or min(left.height, line.height) < 0.85 * h:
                continue
            if _apart(f.v1, left, line) > 0.2 * h or _apart(f.v0, left, line) > 0.3 * h:
                continue
            if not all(f.free[list(n.letters)].any() for n in (left, line)):
                continue  # all of it was cut off lines
            v0, v1 = min(left.v0, line.v0), max(left.v1, line.v1)
            bits = (
                spare & (f.u0 >= left.u1 - 2) & (f.u1 <= line.u0 + 2) & (f.v0 >= v0 - 0.1 * h) & (f.v1 <= v1 + 0.1 * h)
            )
            bits &= f.free & (f.h > 0.2 * h)
            ids = np.flatnonzero(bits)
            if not len(ids) or float(f.h[ids].sum()) < 0.6 * h:
                continue
            edges = sorted(
                [(left.u0, left.u1), (line.u0, line.u1), *zip(f.u0[ids].tolist(), f.u1[ids].tolist(), strict=True)]
            )
            reach, widest = left.u1, 0.0
            for u0, u1 in edges:
                widest, reach = max(widest, u0 - reach), max(reach, u1)
            if widest > 0.9 * h:
                continue
            spare[ids] = False
            out[k] = Line(
                left.angle,
                (*left.members, *map(int, ids), *line.members),
                (*left.letters, *line.letters),
                left.u0,
                line.u1,
                v0,
                v1,
                left.height,
                left.score + line.score,
            )
            break
        else:
            out.append(line)
    return out


def _apart(sides: NDArray[np.float64], left: Line, right: Line) -> float:
    """How far the tops (or feet) of two lines are apart, px: a small letter or one with a tail has others beside it."""
    return float(np.min(abs(sides[list(left.letters)][:, None] - sides[list(right.letters)][None, :])))


def _with_marks(pieces: Pieces, f: Frame, line: Line, spare: Flags) -> tuple[Ints, PxBox]:
    """Points, commas, accents and broken bits that lie in the line or close its end, and the line's box on the page."""
    h = line.height
    mid = (f.v0 + f.v1) / 2
    # nothing farther up or down has a say: most pieces of a page are left out at once
    near = np.flatnonzero((mid > line.v0 - 0.5 * h) & (mid < line.v1 + 0.5 * h))
    u0, u1, v0, v1, tall, wide = (v[near] for v in (f.u0, f.u1, f.v0, f.v1, f.h, f.w))
    free, dot = f.free[near], f.dot[near]
    mid_u, mid_v = (u0 + u1) / 2, mid[near]
    least, most = np.minimum(wide, tall), np.maximum(wide, tall)
    inside = (
        (mid_u > line.u0)
        & (mid_u < line.u1)
        & (mid_v > line.v0 - 0.1 * h)
        & (mid_v < line.v1 + 0.25 * h)
        & (tall < 1.2 * h)
    )
    # a comma hangs on the foot line; what begins below all letters is a bit of the outline under them, or dirt
    inside &= (wide < 1.5 * h) & (v0 < line.v1)
    # a point or comma is about as thick as the pen; specks of dirt are finer
    foot = dot & free & (least >= 0.09 * h) & (u0 >= line.u1 - 1) & (u0 - line.u1 < FAR_POINT * h)
    foot &= (v0 > line.v1 - 0.42 * h) & (v1 < line.v1 + 0.3 * h)
    far = u0 - line.u1 >= 0.4 * h  # so far behind the last letter only what stands on its foot line is a point
    foot &= ~far | ((abs(v1 - line.v1) < 0.1 * h) & (most < 0.3 * h) & (line.height * 3 < line.u1 - line.u0))
    # a row of points that leads on from the end of a line: none of them is its own
    points = free & (most < 0.4 * h) & (most >= 0.09 * h) & (abs(v1 - line.v1) < 0.3 * h)
    if int((points & (u0 >= line.u1 - 1) & (u0 < line.u1 + LEADER_WINDOW * h)).sum()) >= LEADER_POINTS:
        foot[:] = False
    inside &= most >= 0.09 * h
    # a letter that ran full stands level with the others at an end of the line
    full = free & ~f.letter[near] & (abs(v0 - line.v0) <= LEVEL * h) & (abs(v1 - line.v1) <= LEVEL * h)
    full &= (wide >= 0.3 * h) & (wide <= 0.8 * h) & (np.maximum(u0 - line.u1, line.u0 - u1) <= 0.5 * h)
    full &= len(line.letters) > 2
    more = near[spare[near] & (inside & (free | dot | (tall > 0.3 * h)) | foot | full)]
    more = np.union1d(more, letters_in_bits(f, line, spare)) if len(line.letters) > 2 else more
    members = np.concatenate([np.array(line.members, dtype=np.int64), more])
    x0, y0, x1, y1 = pieces.x0[members], pieces.y0[members], pieces.x1[members], pieces.y1[members]
    whole = pieces.free[members]
    if line.angle == 0 and whole.any():  # where a tail that was cut off a rule ends is not known
        y1 = np.minimum(y1, y1[whole].max() + TAIL * h)
    return members, (float(x0.min()), float(y0.min()), float(x1.max()), float(y1.max()))


def _stands_on_left(f: Frame, members: Ints, line: Line) -> bool:
    """True for a line along the page's height whose points stand at the left: its feet are there, it reads downwards."""
    if line.angle != 90:
        return False
    dots = members[f.dot[members] & f.free[members] & (np.minimum(f.w, f.h)[members] >= 0.12 * line.height)]
    middle = ((f.v0 + f.v1)[dots] / 2 - line.v0) / (line.v1 - line.v0)
    return int((middle < 0.25).sum()) >= 2 and not (middle > 0.75).any()


def _line_probability(pieces: Pieces, line: Line, f: Frame, heights: NDArray[np.float64], slender: Flags) -> float:
    """Chance that a line of at least two pieces is lettering: many free, even letters speak for it."""
    letters = np.array(line.letters)
    free = float(pieces.free[letters].mean())
    even = float(np.mean(abs(f.h[letters] - line.height) <= 0.2 * line.height))
    n = len(letters)
    odds = -2.2 + 1.1 * min(n, 6) + 1.6 * free + 2.0 * (even - 0.5)
    if n == 1:
        # letters run together, or a coil: a coil hangs between two bits of wire
        # a few large letters may stand alone on a sheet
        large = line.height > 3.5 * PX_PER_MM and bool(pieces.free[letters[0]])
        odds = -2.0 + 3.5 * max(alike(heights, line.height), 0.4 if large else 0.0)
        odds -= 0.0 if pieces.free[letters[0]] else 3.0
        if f.ends[letters[0], :2].all():
            odds -= 2.0
        if not is_full(pieces, f, int(letters[0])):
            odds -= 2.5
    elif n <= 3 and _has_corner(pieces, f, letters, line.height):
        odds -= 2.5
    elif n <= 3 and not pieces.free[letters].any():
        # as high as other lettering, more letters than pieces, and all stand or hang on a wire: not bits between two wires
        long = f.w[letters] > 1.35 * line.height
        stand = not f.ends[letters, :2].all(axis=1).any() and long.any()
        # of two pieces both are letters that ran together
        stand &= n == 3 or (bool(long.all()) and all(is_full(pieces, f, int(i)) for i in letters))
        odds -= (1.0 if n == 3 else 0.0) if stand and alike(heights, line.height) == 1.0 else 2.5
    if n > 1 and float(np.mean(slender[letters])) > 0.8 and not (f.w[letters] < 0.28 * f.h[letters]).all():
        odds -= 4.0  # hatching
    bars = f.w[letters] < 0.28 * f.h[letters]
    if bars.all() and n > 1 and not pieces.free[letters].any():
        odds -= 4.0
    elif bars.all() and (float(np.ptp(f.h[letters])) > 0.1 * line.height or line.height > TALLEST_BARS):
        odds -= 4.0  # the bars of a ground, the plates of a battery, bits of worn wires side by side
    if line.height < 1.1 * PX_PER_MM:
        odds -= 1.5
    return float(1 / (1 + np.exp(-odds)))


def _has_corner(pieces: Pieces, f: Frame, letters: Ints, height: float) -> bool:
    """True when one of two or three letters is long and not full: the corner of a wire beside a speck."""
    return any(not is_full(pieces, f, int(i)) for i in letters[f.w[letters] > 1.35 * height])


def _sign(pieces: Pieces, members: Ints) -> Found:
    """An equals sign."""
    x0, y0, x1, y1 = (float(v) for v in (
        pieces.x0[members].min(), pieces.y0[members].min(), pieces.x1[members].max(), pieces.y1[members].max(),
    ))  # fmt: skip
    both = tuple(map(int, members))
    return Line(0, both, both, x0, x1, y0, y1, y1 - y0, 0.0), members, (x0, y0, x1, y1), SIGN
