"""Strings of one cell that the text finder cut apart: joined again, left to right, where the whole is a wire code."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from digitize.harness.claim import Alternative
from digitize.legend.automata import TabledAutomaton
from digitize.reading.alphabet import folded
from digitize.reading.decode import Walk
from digitize.reading.state import ReadText
from digitize.tables.claims import union
from digitize.tables.layout import Rules, letter_height, rows_of

GLUES = ((" ", 0.6), ("", 0.3), ("/", 0.08), ("-", 0.02))
"""What stands between two pieces of a cut code, with its chance: mostly the space at which it was cut, seldom a thin sign
that was lost with the cut (own choice; the grammar decides among them)."""

IN_CELL = 2.2
"""Pieces in one ruled cell stand at most so many letter heights apart; lettering spaces are 0.5 to 1.4 (own choice)."""
IN_OPEN = 1.3
"""The same where no rules part the cells: columns are set further apart than words (own choice)."""

MOST = 8
"""Readings of each piece that are combined."""


def cells_joined(texts: Sequence[ReadText], rules: Rules, code: TabledAutomaton) -> list[ReadText]:
    """``texts`` with the pieces of cut codes joined; all others as they are.

    Two neighbours on one line become one when no upright rule stands between them, they stand as close as words do, the
    left one is no whole code itself (in a ruled cell it may be: there is one code to a cell) and some combination of their readings obeys the grammar of codes. The joined text's
    readings are the products of those of its parts (parts are read independently).
    """
    tall = letter_height(texts)
    walk = Walk(code)
    out: list[ReadText] = []
    for row in rows_of(texts):
        kept: list[ReadText] = []
        for text in row.texts:
            whole = _whole(kept, text, rules, tall, walk)
            if whole is None:
                kept.append(text)
            else:
                joined, pieces = whole
                kept[-pieces:] = [joined]
        out += kept
    return out


def _whole(
    before: Sequence[ReadText], text: ReadText, rules: Rules, tall: float, code: Walk
) -> tuple[ReadText, int] | None:
    """``text`` joined with the one or two texts before it, and how many those are; None when that makes no code."""
    parts = [text]
    for piece in reversed(before[-2:]):
        first = parts[0]
        whole = code.takes(folded(piece.text)) is not None and not _ruled(piece, first, rules)
        if whole or not _close(piece, first, rules, tall):
            return None
        parts.insert(0, piece)
        joined = _joined(parts, code)
        if joined is not None:
            return joined, len(parts) - 1
    return None


def _close(left: ReadText, right: ReadText, rules: Rules, tall: float) -> bool:
    y = left.box.centre[1]
    gap = right.box.x0 - left.box.x1
    if not -0.3 * tall <= gap or rules.between(y, left.box.x1 - 0.3, right.box.x0 + 0.3):
        return False
    return gap <= (IN_CELL if _ruled(left, right, rules) else IN_OPEN) * tall


def _ruled(left: ReadText, right: ReadText, rules: Rules) -> bool:
    """True when upright rules stand at both sides of the two texts, on their line."""
    y = left.box.centre[1]
    at = [x for x, a, b in rules.upright if a - 1.0 <= y <= b + 1.0]
    return any(x <= left.box.x0 + 0.3 for x in at) and any(x >= right.box.x1 - 0.3 for x in at)


def _joined(parts: Sequence[ReadText], code: Walk) -> ReadText | None:
    ways: dict[str, float] = {"": 1.0}
    for k, part in enumerate(parts):
        longer: dict[str, float] = {}
        for so_far, p in ways.items():
            for glue, chance in GLUES if k else (("", 1.0),):
                for a in _readings(part):
                    string = so_far + glue + a.text.strip()
                    longer[string] = max(longer.get(string, 0.0), p * chance * a.probability)
        ways = longer
    obeys = {own: p for string, p in ways.items() if (own := code.takes(folded(string))) is not None}
    if not obeys:
        return None
    # the glue is no fact about the ink: what is known is that one of these stands there
    sure = 1.0
    for part in parts:
        sure *= max(a.probability for a in _readings(part))
    total = sum(obeys.values())
    ranked = tuple(
        Alternative(string, min(0.99, p / total * sure))
        for string, p in sorted(obeys.items(), key=lambda q: (-q[1], q[0]))[:6]
    )
    first = parts[0]
    return replace(
        first,
        box=union([p.box for p in parts]),
        text=ranked[0].text,
        kind="code",
        probability=ranked[0].probability,
        free=ranked,
        by_kind=(("code", ranked),),
        readers=tuple(dict.fromkeys(r for p in parts for r in p.readers)),
    )


def _readings(text: ReadText) -> tuple[Alternative, ...]:
    free = text.free[:MOST]
    if text.text and all(a.text != text.text for a in free):
        free = (Alternative(text.text, text.probability), *free)
    return free
