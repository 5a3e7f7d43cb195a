"""What kind of page a sheet is, from what is printed on it; its title and page label.

A naive Bayes weighing of the look of the page, heading words and the share of texts that look like codes, zones or ids;
the weights are our own judgement, no source.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace

from digitize.reading.state import ReadMarks, ReadText
from digitize.sheet.state import SHEET_KINDS, SheetFacts, SheetHints
from digitize.tables import wording
from digitize.tables.chart import role_of
from digitize.tables.index_page import looks_like_zones
from digitize.tables.layout import Row, clusters, letter_height, level_texts, rows_of

TITLE_WORDS: tuple[tuple[str, tuple[str, ...], float], ...] = (
    ("chart", ("CHART",), 3.0),
    ("chart", ("CONNECTORS",), 1.0),
    ("index", ("INDEX",), 3.5),
    ("legend", ("LEGEND", "ABBREVIATIONS", "SYMBOLS"), 3.0),
    ("legend", ("CODES",), 1.0),
    ("diagram", ("DIAGRAM", "SHEET", "WIRING", "SCHEMATIC"), 1.0),
)
LABEL = re.compile(r"^(?:PAGE |SHEET )?[A-Z0-9]{1,4}\s?[-–./]\s?\d{1,3}[A-Z]?$|^(?:PAGE|SHEET) \d{1,3}$|^\d{1,3}$")


def kind_of(read: ReadMarks, hints: SheetHints | None = None) -> ReadMarks:
    """The same marks on a sheet whose kind, title and page label are known as well as the print tells them."""
    facts = read.marks.sheet.facts
    kind, probability = kind_and_probability(read, hints)
    title, label = title_and_label(facts, read.texts)
    facts = replace(
        facts, kind=kind, kind_probability=probability, title=facts.title or title, label=facts.label or label
    )
    return replace(read, marks=replace(read.marks, sheet=replace(read.marks.sheet, facts=facts)))


def kind_and_probability(read: ReadMarks, hints: SheetHints | None = None) -> tuple[str, float]:
    """One of SHEET_KINDS with its probability. What the conventions state wins."""
    if hints is not None and hints.kind in SHEET_KINDS:
        return str(hints.kind), 0.99
    facts = read.marks.sheet.facts
    score = dict.fromkeys(SHEET_KINDS, 0.0)
    score["other"] = -1.0
    # the look of the page alone is only a first guess
    score[facts.kind] += math.log(max(facts.kind_probability, 0.2) / 0.2)
    for kind, weight in _said(read.texts):
        score[kind] += weight
    for kind, weight in _laid_out(read):
        score[kind] += weight
    whole = sum(math.exp(v) for v in score.values())
    best = max(SHEET_KINDS, key=lambda k: score[k])
    return best, min(0.99, math.exp(score[best]) / whole)


def _said(texts: Sequence[ReadText]) -> list[tuple[str, float]]:
    """Weights from the words of large texts and of column headings."""
    level = level_texts(texts)
    tall = letter_height(level)
    out = []
    large = [t for t in level if t.box.height > 1.25 * tall]
    for kind, wanted, weight in TITLE_WORDS:
        if any(wording.says(t.text, wanted) for t in large):
            out.append((kind, weight))
    heads = [t for t in level if len(wording.words(t.text)) <= 2]
    cavities = sum(wording.all_say(t.text, ("CAV", "CAVITY", "PIN", "TERMINAL")) for t in heads)
    out.append(("chart", min(2.5, 0.8 * cavities)))
    zones = sum(wording.all_say(t.text, ("ZONE", "ZONES", "GRID")) for t in heads)
    names = sum(wording.all_say(t.text, ("COMPONENT", "COMPONENTS", "ITEM", "NAME")) for t in heads)
    out.append(("index", 1.2 * min(2, zones) + 0.5 * min(2, names)))
    sections = {wording.section_of(t.text) for t in heads} - {None}
    out.append(("legend", 0.9 * max(0, len(sections) - 1)))
    return out


def _laid_out(read: ReadMarks) -> list[tuple[str, float]]:
    """Weights from where codes, zones and lines stand."""
    level = level_texts(read.texts)
    if not level:
        return [("other", 1.0)]
    n = len(level)
    facts = read.marks.sheet.facts
    codes = [t for t in level if role_of(t) == "code"]
    rows = rows_of(level)
    paired = sum(sum(role_of(t) in {"code", "dash"} for t in r.texts) >= 2 for r in rows)
    zones = [t for t in level if looks_like_zones(t)]
    zoned = sum(_is_indexed(r) for r in rows)
    bends = sum(len(s.points) > 2 for s in read.marks.strokes)
    meet = sum(m.kind in {"join", "cross"} for m in read.marks.meetings)
    listed = paired >= 4 and len(codes) > 0.25 * n and _in_columns(codes)
    indexed = zoned >= 5 and zoned > 0.5 * len(rows) and _in_columns(zones)
    return [
        ("diagram", 1.5 if facts.frame is not None else -1.0),
        ("diagram", 2.5 if bends > 25 else 1.5 if meet > 40 else -1.0),
        ("diagram", 1.0 if len(read.marks.symbols) > 8 else 0.0),
        # codes and zones lie about on a drawing and stand under each other in a list
        ("diagram", 1.5 if len(codes) > 8 and not _in_columns(codes) else 0.0),
        ("chart", 2.0 if listed else -1.5 if len(codes) < 0.1 * n else 0.0),
        ("index", 2.5 if indexed else -1.5 if zoned < 0.2 * len(rows) else 0.0),
    ]


def _is_indexed(row: Row) -> bool:
    """True for a line of a name and its zones, in either order."""
    if any(looks_like_zones(t) for t in row.texts[1:]):
        return True
    return len(row.texts) == 2 and looks_like_zones(row.texts[0]) and role_of(row.texts[1]) == "words"


def _in_columns(texts: Sequence[ReadText]) -> bool:
    """True when most texts start, or end, under at least three others."""
    for edge in ([t.box.x0 for t in texts], [t.box.x1 for t in texts]):
        together = sum(k for _, k in clusters(edge, 0.6) if k >= 4)
        if together > 0.6 * max(1, len(texts)):
            return True
    return False


def title_and_label(facts: SheetFacts, texts: Sequence[ReadText]) -> tuple[str | None, str | None]:
    """The printed title (large lettering of two words or more) and the page label (a short mark at the foot or top)."""
    level = level_texts(texts)
    tall = letter_height(level)
    large = [t for t in level if t.box.height > 1.3 * tall and len(wording.words(t.text)) >= 2]
    title = max(large, key=lambda t: (t.box.height * min(40, len(t.text)), -t.box.y0), default=None)
    edge = 0.06 * facts.height
    outside = [
        t for t in level
        if (t.box.y1 > facts.height - edge or t.box.y0 < edge)
        and (facts.frame is None or not facts.frame.holds(t.box.centre))
        and LABEL.match(t.text.strip().upper())
    ]  # fmt: skip
    zones = {b.label for b in (*facts.zones.columns, *facts.zones.rows)} if not facts.zones.nominal else set()
    outside = [t for t in outside if t.text.strip() not in zones]
    label = max(outside, key=lambda t: (len(t.text), t.box.y0), default=None)
    return (title.text if title else None), (label.text if label else None)
