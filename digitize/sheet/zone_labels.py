"""Fit the zone grid to the labels that were read along the frame: misread, missing, ascending or descending, uneven."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from digitize.harness.place import Box
from digitize.sheet.state import SheetHints
from digitize.sheet.zone_fit import (
    ISO_SKIPPED,
    bands_between,
    borders_from_ticks,
    even_bands,
    labels_from,
    letter_index,
    letter_label,
    nominal_zones,
    zones_from_hints,
)
from digitize.sheet.zone_lattice import Spot, lattice_of
from digitize.sheet.zones import Band, ZoneGrid

Label = tuple[str, Box, float]
"""Text as read, its box (sheet mm), the reader's probability (0..1)."""

MARGIN_OUTSIDE_MM = 22.0
MARGIN_INSIDE_MM = 9.0
"""How far outside and inside the frame a zone label may stand (common practice, no source)."""

FEWEST, MOST = 3, 30
"""Cells along one side that an even division is tried with. ISO 5457 goes up to 24 (A0)."""

SMALLEST_CELL_MM = 12.0

_AS_DIGIT = {
    "O": "0",
    "Q": "0",
    "D": "0",
    "I": "1",
    "L": "1",
    "|": "1",
    "S": "5",
    "B": "8",
    "Z": "2",
    "G": "6",
    "!": "1",
}
_AS_LETTER = {"0": "O", "1": "I", "|": "I", "5": "S", "8": "B", "2": "Z", "6": "G", "4": "A", "!": "I"}
_SKIP_SETS: tuple[tuple[str, ...], ...] = ((), ("I", "O"), ("I",), ("O",), ("I", "O", "Q"))


@dataclass(frozen=True, slots=True)
class _Seen:
    """A label on one side: ``at`` along the axis and ``out`` from the frame (mm), its text, weight 0..1, height (mm)."""

    side: str
    at: float
    text: str
    weight: float
    out: float
    height: float


@dataclass(frozen=True, slots=True)
class AxisFit:
    """One axis of the grid: its bands, the probability, and how much label weight agrees and disagrees."""

    bands: tuple[Band, ...]
    probability: float
    agrees: float
    disagrees: float


@dataclass(frozen=True, slots=True)
class _Sequence:
    """How labels are counted: numbers, or letters without ``skipped``."""

    numbers: bool
    skipped: tuple[str, ...] = ()

    def values(self, text: str) -> dict[int, float]:
        """Places in the sequence that ``text`` may stand for, with a weight; look-alike characters count half."""
        if self.numbers:
            return _number_values(text)
        return _letter_values(text, self.skipped)

    def label(self, value: int) -> str:
        """The label at a place; the empty string for a place before the first."""
        if value < 0:
            return ""
        return str(value) if self.numbers else letter_label(value, self.skipped)


def zones_from_labels(
    frame: Box,
    labels: Sequence[Label],
    hints: SheetHints,
    *,
    ticks_across: Sequence[float] = (),
    ticks_down: Sequence[float] = (),
    page: tuple[float, float] | None = None,
) -> tuple[ZoneGrid, float]:
    """The grid that the labels printed along ``frame`` show, and the probability that all of it is right.

    Args:
        frame: the inner line of the drawn border, sheet mm (the page itself when there is none).
        labels: every short text read near the frame; texts that are no labels are voted down.
        hints: what the conventions state; they help a doubtful vote and fill an axis whose labels cannot be read.
        ticks_across: marks on the frame along x (SheetFacts), mm; cells may be uneven then.
        ticks_down: the same along y.
        page: width and height of the page, mm, for the nominal grid when neither labels nor hints show anything.
    """
    across_fits = _axis(_near(frame, labels, ("top", "bottom")), (frame.x0, frame.x1), ticks_across, _wanted(hints, 0))
    down_fits = _axis(_near(frame, labels, ("left", "right")), (frame.y0, frame.y1), ticks_down, _wanted(hints, 1))
    across, down = _best_pair(across_fits, down_fits)
    if across is None and down is None:
        width, height = page or (frame.x1 + frame.x0, frame.y1 + frame.y0)
        return nominal_zones(width, height, frame), 0.5
    nominal = nominal_zones(*(page or (frame.x1 + frame.x0, frame.y1 + frame.y0)), frame)
    columns = across.bands if across else nominal.columns
    rows = down.bands if down else nominal.rows
    if across is None and rows[0].label[:1].isdigit():  # the unread axis must be the other kind
        columns = _renamed(columns, labels_from("A", len(columns), ISO_SKIPPED))
    if down is None and not columns[0].label[:1].isdigit():
        rows = _renamed(rows, labels_from("1", len(rows)))
    probability = (across.probability if across else 0.3) * (down.probability if down else 0.3)
    stated = zones_from_hints(frame, hints)
    if stated is not None and _names(stated) == _names(ZoneGrid(columns, rows, nominal=False)):
        probability = max(probability, 0.97)  # two sources that agree
    return ZoneGrid(columns, rows, nominal=False), probability


def _names(grid: ZoneGrid) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return tuple(b.label for b in grid.columns), tuple(b.label for b in grid.rows)


@dataclass(frozen=True, slots=True)
class _Wanted:
    """What the conventions say about one axis."""

    numbers: bool | None
    count: int | None
    first: str | None
    skipped: tuple[str, ...] | None


def _wanted(hints: SheetHints, axis: int) -> _Wanted:
    names, count, first = (
        (hints.across, hints.columns, hints.first_column) if axis == 0 else (hints.down, hints.rows, hints.first_row)
    )
    numbers = None if names is None else names == "numbers"
    if numbers is not None and first is None:
        first = "1" if numbers else "A"
    if axis == 0 and hints.continues and first is not None:
        if hints.diagram_number is None or count is None:
            first = None
        else:
            skipped = ISO_SKIPPED if hints.letters_skipped is None else hints.letters_skipped
            first = labels_from(first, 1, skipped, (hints.diagram_number - 1) * count)[0]
    return _Wanted(numbers, count, first, hints.letters_skipped)


def _near(frame: Box, labels: Iterable[Label], sides: tuple[str, str]) -> list[_Seen]:
    """Short texts in the margins along two opposite sides; those inside the frame count less."""
    seen = []
    for text, box, probability in labels:
        clean = "".join(text.split()).upper().strip(".,:;-_'\"()[]")
        if not 0 < len(clean) <= 3 or probability <= 0.0:
            continue
        x, y = box.centre
        for side in sides:
            level = side in {"top", "bottom"}
            at, low, high = (x, frame.x0, frame.x1) if level else (y, frame.y0, frame.y1)
            out = {"top": frame.y0 - y, "bottom": y - frame.y1, "left": frame.x0 - x, "right": x - frame.x1}[side]
            if not (low <= at <= high and -MARGIN_INSIDE_MM <= out <= MARGIN_OUTSIDE_MM):
                continue
            seen.append(_Seen(side, at, clean, probability * (1.0 if out > 0 else 0.5), out, box.height))
    return seen


def _number_values(text: str) -> dict[int, float]:
    if text.isascii() and text.isdigit():
        return {int(text): 1.0}
    turned = "".join(_AS_DIGIT.get(c, c) for c in text)
    return {int(turned): 0.5} if turned.isascii() and turned.isdigit() else {}


def _letter_values(text: str, skipped: tuple[str, ...]) -> dict[int, float]:
    if len(text) > 2:
        return {}
    index = letter_index(text, skipped)
    if index is not None:
        return {index: 1.0}
    turned = letter_index("".join(_AS_LETTER.get(c, c) for c in text), skipped)
    return {} if turned is None else {turned: 0.5}


_Fits = dict[bool, tuple[float, AxisFit]]
"""The best fit of one axis with numbers (True) and with letters (False), each with its score."""


def _best_pair(across: _Fits, down: _Fits) -> tuple[AxisFit | None, AxisFit | None]:
    """One axis has numbers, the other letters: the pair that scores best; an axis may stay unread."""
    best: tuple[float, AxisFit | None, AxisFit | None] = (0.0, None, None)
    for numbers in (True, False):
        one, other = across.get(numbers), down.get(not numbers)
        score = (one[0] if one else 0.0) + (other[0] if other else 0.0)
        if score > best[0]:
            best = (score, one[1] if one else None, other[1] if other else None)
    return best[1], best[2]


def _axis(seen: list[_Seen], span: tuple[float, float], ticks: Sequence[float], wanted: _Wanted) -> _Fits:
    """The best division and sequence for one axis, by kind of label; empty when nothing is read and nothing is stated."""
    stated = _stated(span, ticks, wanted)
    fits: _Fits = {}
    for sequence in _sequences(wanted):
        values = [(s, sequence.values(s.text)) for s in seen]
        values, steps = _in_order(values, span)
        for borders, prior in [*steps, *_divisions(values, span, ticks, wanted)]:
            cells = [_cell_of(seen.at, borders) for seen, _ in values]
            for rising in (True, False):
                found = _vote(values, cells, borders, sequence, wanted, rising=rising)
                if found is None or found[1].agrees < (1.5 if stated is None else 2.5):
                    continue
                score = found[0] + prior
                if score > fits.get(sequence.numbers, (0.0,))[0]:
                    fits[sequence.numbers] = (score, found[1])
    if stated is not None and not fits:
        fits[stated.bands[0].label[:1].isdigit()] = (0.5, stated)
    return fits


def _stated(span: tuple[float, float], ticks: Sequence[float], wanted: _Wanted) -> AxisFit | None:
    """The axis as the conventions alone give it."""
    if wanted.count is None or wanted.first is None:
        return None
    skipped = ISO_SKIPPED if wanted.skipped is None else wanted.skipped
    labels = labels_from(wanted.first, wanted.count, skipped)
    borders = borders_from_ticks(wanted.count, *span, ticks)
    bands = even_bands(labels, *span) if borders is None else bands_between(labels, borders)
    return AxisFit(bands, 0.95, 0.0, 0.0)


def _sequences(wanted: _Wanted) -> list[_Sequence]:
    found = []
    if wanted.numbers is not False:
        found.append(_Sequence(numbers=True))
    if wanted.numbers is not True:
        sets = _SKIP_SETS if wanted.skipped is None else (wanted.skipped,)
        found += [_Sequence(False, skipped) for skipped in sets]
    return found


_Valued = list[tuple[_Seen, dict[int, float]]]


def _in_order(values: _Valued, span: tuple[float, float]) -> tuple[_Valued, list[tuple[list[float], float]]]:
    """The labels, those believed more that stand at equal steps and count on, and the division that follows the steps."""
    sure = [(i, v) for i, (_, meant) in enumerate(values) for v, share in meant.items() if share == 1.0]
    spots = [Spot(values[i][0].side, values[i][0].at, values[i][0].out, values[i][0].height, v) for i, v in sure]
    lattice = lattice_of(spots)
    if lattice is None:
        return values, []
    raised = list(values)
    for k in lattice.spots:
        seen, meant = values[sure[k][0]]
        raised[sure[k][0]] = (replace(seen, weight=max(seen.weight, lattice.probability)), meant)
    return raised, [(lattice.borders(*span, spots), 0.0)]


def _divisions(
    values: _Valued,
    span: tuple[float, float],
    ticks: Sequence[float],
    wanted: _Wanted,
) -> list[tuple[list[float], float]]:
    """Divisions of the side worth trying, each with a bonus for what speaks for it already."""
    start, end = span
    found: list[tuple[list[float], float]] = []
    inside = [t for t in ticks if start + 3 < t < end - 3]
    if inside:
        found.append(([start, *inside, end], 1.0))
    for count in range(min(FEWEST, wanted.count or FEWEST), MOST + 1):
        if (end - start) / count < SMALLEST_CELL_MM:
            break
        bonus = 1.5 if wanted.count == count else 0.0
        repaired = borders_from_ticks(count, start, end, ticks)
        if repaired is not None:
            found.append((repaired, 0.6 + bonus))
        found.append(([start + (end - start) * i / count for i in range(count + 1)], bonus))
    middles = _between_labels(values, span)
    if middles is not None:
        found.append((middles, -0.8))
    return found


def _between_labels(values: _Valued, span: tuple[float, float]) -> list[float] | None:
    """Borders midway between label centres, from the longest chain of labels that follow one another on one side."""
    best: list[float] = []
    for side in {s.side for s, _ in values}:
        marks = sorted((s.at, next(iter(v))) for s, v in values if s.side == side and v)
        for direction in (1, -1):
            chain = _longest_chain(marks, direction)
            if len(chain) > len(best):
                best = chain
    if len(best) < 4:
        return None
    middles = [(a + b) / 2 for a, b in pairwise(best)]
    return [span[0], *middles, span[1]]


def _longest_chain(marks: list[tuple[float, int]], direction: int) -> list[float]:
    """Places of the longest run of marks whose values rise (or fall) one by one; marks between them are passed over."""
    reach: dict[int, list[float]] = {}
    best: list[float] = []
    for at, value in marks:
        before = reach.get(value - direction, [])
        chain = [*before, at]
        if len(chain) > len(reach.get(value, [])):
            reach[value] = chain
        if len(chain) > len(best):
            best = chain
    return best


def _vote(
    values: _Valued,
    places: list[tuple[int, float]],
    borders: list[float],
    sequence: _Sequence,
    wanted: _Wanted,
    *,
    rising: bool,
) -> tuple[float, AxisFit] | None:
    """Every label votes for the place of the first cell. Returns (score, fit) of the winner. ``places``: each label's ``_cell_of``."""
    count = len(borders) - 1
    votes: dict[int, dict[tuple[str, int], float]] = defaultdict(lambda: defaultdict(float))
    heard = 0.0
    sides: set[str] = set()
    for (seen, meant), (cell, closeness) in zip(values, places, strict=True):
        weight = seen.weight * closeness
        if not meant or weight <= 0.0:
            continue
        heard += max(weight * w for w in meant.values())
        for value, share in meant.items():
            first = value - cell if rising else value + cell
            key = (seen.side, cell)
            votes[first][key] = max(votes[first][key], weight * share)
    lowest = 0 if rising else count - 1
    votes = {first: cells for first, cells in votes.items() if first >= lowest}
    if not votes:
        return None
    expected = _first_value(wanted, sequence)
    first = max(votes, key=lambda f: (sum(votes[f].values()) + (0.8 if f == expected and rising else 0.0), -f))
    agrees = sum(votes[first].values())
    disagrees = max(0.0, heard - agrees)
    sides = {side for side, _ in votes[first]}
    per_side = [sum(1 for s, _ in votes[first] if s == side) for side in sides]
    missing = sum(count - n for n in per_side)
    bonus = 0.8 if first == expected and rising else 0.0
    natural = first == (1 if sequence.numbers else 0)  # begins with 1 or A
    known = natural * 0.5 - (0.0 if rising else 1.0) - 0.1 * len(sequence.skipped)
    score = agrees - 0.7 * disagrees - 0.45 * missing + bonus + known
    labels = [sequence.label(first + i if rising else first - i) for i in range(count)]
    support = agrees / (agrees + disagrees + 0.4 * missing + 1e-9)
    certain = 1.0 - math.exp(-agrees / 1.5)
    probability = min(0.995, (0.4 + 0.6 * support) * certain + (0.05 if bonus else 0.0))
    return score, AxisFit(bands_between(labels, borders), probability, agrees, disagrees)


def _cell_of(at: float, borders: list[float]) -> tuple[int, float]:
    """The cell that holds ``at`` and how near its middle it is: 1 in the middle, 0 towards the borders.

    The first and the last cell may be wider than what stands in them (a corner field): they are more lenient.
    """
    count = len(borders) - 1
    cell = min(bisect_right(borders, at, 1) - 1, count - 1)
    half = (borders[cell + 1] - borders[cell]) / 2
    off = abs(at - (borders[cell] + borders[cell + 1]) / 2) / max(half, 1e-6)
    lenient = 0.85 if cell in {0, count - 1} else 0.7
    return cell, max(0.0, 1.0 - (off / lenient) ** 2)


def _first_value(wanted: _Wanted, sequence: _Sequence) -> int | None:
    if wanted.first is None:
        return None
    return max(sequence.values(wanted.first), default=None)


def _renamed(bands: tuple[Band, ...], labels: Sequence[str]) -> tuple[Band, ...]:
    return tuple(Band(label, b.start, b.end) for label, b in zip(labels, bands, strict=True))
