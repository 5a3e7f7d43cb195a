"""An alphabetical index page: several columns of names with their zones.

Zones that stand under each other end a column, or begin it where the zones stand first. A name without zone is the first part of a wrapped one, or, when several
indented lines follow, the parent of those sub-entries.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations, takewhile

import numpy as np

from digitize.harness.claim import Alternative, Claim
from digitize.harness.place import Box
from digitize.reading.state import ReadText
from digitize.sheet.state import SheetFacts
from digitize.tables import wording
from digitize.tables.chart import BY, mass
from digitize.tables.claims import claim_of, joined, readings_as, union
from digitize.tables.layout import clusters, letter_height, level_texts, rows_of
from digitize.tables.run_on import with_zones_parted
from digitize.tables.state import IndexLine

ONE_ZONE = r"(?:[A-Z]{1,2}[- ]?\d{1,3}|\d{1,3}[- ]?[A-Z]{1,2})"
ZONES = re.compile(rf"^{ONE_ZONE}(?:\s*[,;/&.]?\s*{ONE_ZONE})*\s*[,;/&]?$")
TAIL = re.compile(rf"^(?P<name>.*?[A-Z)\"'].*?)[\s.·…,:_-]*[\s.·…:_]+(?P<zones>{ONE_ZONE}(?:\s*[,;&]\s*{ONE_ZONE})*)$")
HEAD = re.compile(
    rf"^(?P<zones>{ONE_ZONE}(?:\s*[,;&]\s*{ONE_ZONE})*)(?:\s+|\s*[.·…:_-]+\s*)(?P<name>[A-Z(\"'].*[A-Z)].*)$"
)
LEAD, TRAIL = 0.6, 0.3
"""Zones stand before the names where at least so many lines of a page begin with one and at most so many end with one."""
NAMED_MM = 1.0
"""What starts this near to where the names of a column start is a name where zones stand first, mm."""
_ZONE_MM = 3.0
"""What begins this far before the names, mm, stands where the zones stand."""
_TELLING, _APART, _MOST_LEAN = 6, 15.0, 0.05
"""So many lines tell how a column's margin leans, taken two that are so many mm apart; more than 3 degrees is no skewed scan."""
_ALONG = 0.75
"""Share of the lines that must begin at such a margin: else they are sub-entries under entries, and nothing leans."""
INDENT = 1.2
"""A line starting this much to the right of its column's margin, mm, is indented."""


@dataclass(frozen=True, slots=True)
class _Line:
    """One line of one column: name texts, zone text, or both parts of one text."""

    name: Claim | None
    zones: tuple[Claim, ...]
    x0: float
    box: Box


def looks_like_zones(text: ReadText) -> bool:
    """True for one or more zone references."""
    return mass(text, "zone") >= 0.5 or bool(ZONES.match(text.text.strip().upper()))


def read_index(facts: SheetFacts, texts: Sequence[ReadText]) -> tuple[IndexLine, ...]:
    """All entries, down the columns, left to right."""
    level = [t for t in level_texts(texts) if re.search(r"[A-Z0-9]", t.text.upper())]
    tall = letter_height(level)
    level = _below_headings(level, tall)
    if not level:
        return ()
    lines: list[_Line] = []
    lead = _zones_lead(level)
    if not lead:
        level = with_zones_parted(level, [t for t in level if looks_like_zones(t)], tall, HEAD)
    for column in _columns(level, tall, lead=lead):
        lines += _from_margin(_lines(facts, column, lead=lead))
    return tuple(_entries(lines))


def _zones_lead(texts: list[ReadText]) -> bool:
    """True when the lines of the page begin with their zones: ``E4  AIR SENSOR``."""
    rows = [r.texts for r in rows_of([t for t in texts if len(t.text.strip()) > 1])]
    begun = sum((looks_like_zones(r[0]) and len(r) > 1) or bool(HEAD.match(r[0].text.strip().upper())) for r in rows)
    ended = sum(looks_like_zones(r[-1]) or bool(TAIL.match(r[-1].text.strip())) for r in rows)
    return begun >= LEAD * len(rows) and ended <= TRAIL * len(rows)


def _from_margin(lines: list[_Line]) -> list[_Line]:
    """Lines of one column with ``x0`` counted from its margin: what is indented at its top goes on with the column before."""
    named = [line for line in lines if line.name is not None]
    lean = _lean([(line.x0, line.box.centre[1]) for line in named])
    upright = [line.x0 - lean * line.box.centre[1] for line in lines]
    at = [(x, bool(line.zones)) for x, line in zip(upright, lines, strict=True) if line.name is not None]
    # one entry that dirt makes longer to the left is no margin, from which all others were indented
    ends = [x for x, zoned in at if not zoned or sum(abs(x - u) < INDENT / 2 for u, _ in at) > 1]
    margin = min(ends or [x for x, _ in at], default=0.0)
    return [replace(line, x0=x - margin) for x, line in zip(upright, lines, strict=True)]


def _lean(starts: Sequence[tuple[float, float]]) -> float:
    """How far a margin of a column leans, mm to the right for each mm down; 0 where too few lines tell.

    The median over all pairs of lines that stand well apart (the estimator of Theil and Sen): a few sub-entries do not sway it.
    """
    slopes = [(x - u) / (y - v) for (u, v), (x, y) in combinations(starts, 2) if abs(y - v) > _APART]
    if len(starts) < _TELLING or not slopes:
        return 0.0
    lean = float(np.median(slopes))
    stood = np.array([x - lean * y for x, y in starts])
    along = float(np.mean(np.abs(stood - np.median(stood)) < INDENT / 2))
    return lean if abs(lean) <= _MOST_LEAN and along >= _ALONG else 0.0


def _below_headings(texts: list[ReadText], tall: float) -> list[ReadText]:
    """Without the title, the headings of the columns, page numbers, and letters that head a section."""
    heads = [
        t.box.y1
        for t in texts
        if wording.all_say(t.text, wording.INDEX_NAME_WORDS + wording.INDEX_ZONE_WORDS)
        and len(wording.words(t.text)) <= 3
    ]
    rows = clusters(heads, tall)
    top = [y for y, n in rows if n >= 2][:1] or [y for y, n in rows][:1]
    kept = [t for t in texts if not top or t.box.y0 > top[0] - 0.3 * tall]
    kept = [
        t for t in kept
        if not (wording.all_say(t.text, wording.INDEX_NAME_WORDS + wording.INDEX_ZONE_WORDS) and any(abs(t.box.y1 - y) < tall for y in top))
    ]  # fmt: skip
    return [t for t in kept if t.box.height < 1.6 * tall and not (len(t.text.strip()) == 1 and t.text.isalpha())]


def _columns(texts: list[ReadText], tall: float, *, lead: bool = False) -> list[list[ReadText]]:
    """Texts of each column: the left margins of the names (of the zones, where these ``lead``) tell where columns start."""
    zones = [t for t in texts if looks_like_zones(t)]
    names = [t for t in texts if not looks_like_zones(t)]
    if not names:
        return []
    if lead and zones:
        zones, names = names, zones
    margins = [x for x, n in clusters([t.box.x0 for t in names], 0.6 * tall) if n >= max(2, 0.06 * len(names))]
    # sub-entries are indented by a few letters: a margin close to the right of another is no new column
    starts: list[float] = []
    for x in margins or [min(t.box.x0 for t in names)]:
        ends = [z.box.x1 for z in zones if starts and starts[-1] < z.box.x1 < x + 1]
        if not starts or (x - starts[-1] > 12 * tall and len(ends) >= 1):
            starts.append(x)
    edges = [x - tall for x in starts]
    parts: list[list[ReadText]] = [[] for _ in edges]
    for t in texts:
        parts[max(0, int(np.searchsorted(edges, t.box.x0, side="right")) - 1)].append(t)
    return [p for p in parts if p]


def _lines(facts: SheetFacts, texts: list[ReadText], *, lead: bool = False) -> list[_Line]:
    out = []
    starts = clusters([t.box.x0 for t in texts if len(t.text.strip()) > 1 and not looks_like_zones(t)], 1.0)
    margin = max(starts, key=lambda c: c[1], default=(0.0, 0))[0]
    words = [t for t in texts if len(t.text.strip()) > 1]
    texts = [*words, *(t for t in texts if t not in words and t.box.x0 > margin - 1.0 and _follows(t, words))]
    for row in rows_of(texts):
        zone_texts = [t for t in row.texts if looks_like_zones(t)]
        # a name such as "E10" at the margin is a name, not a zone
        if lead:
            # a name such as "D1" where the names begin is a name, not another zone
            begins = next((k for k, t in enumerate(row.texts) if k and abs(t.box.x0 - margin) < NAMED_MM), None)
            zone_texts = list(takewhile(looks_like_zones, row.texts[:begins]))
        elif zone_texts and zone_texts[0] is row.texts[0] and len(row.texts) > 1:
            zone_texts = zone_texts[1:]
        name_texts = [t for t in row.texts if t not in zone_texts]
        if lead and not zone_texts:  # a zone that could not be read as one stands where the others do
            name_texts = [t for t in name_texts if t.box.x0 > margin - _ZONE_MM] or name_texts
        if not zone_texts and len(name_texts) >= 1:
            split = _split(facts, name_texts[0 if lead else -1], HEAD if lead else TAIL)
            if split is not None and lead:
                rest = claim_of(facts, name_texts[1:], None, BY) if len(name_texts) > 1 else None
                out.append(_Line(joined(split[0], rest, " ") if rest else split[0], split[1], margin, row.box))
                continue
            if split is not None:
                name = claim_of(facts, name_texts[:-1], None, BY) if len(name_texts) > 1 else None
                out.append(_Line(joined(name, split[0], " ") if name else split[0], split[1], row.x0, row.box))
                continue
        name = claim_of(facts, name_texts, None, BY) if name_texts else None
        if name is not None and name.value is not None:
            name = _trimmed(name)
        zones = tuple(z for t in zone_texts for z in zones_of(facts, t))
        # where the zones stand first, the names tell what is indented
        out.append(_Line(name, zones, name_texts[0].box.x0 if lead and name_texts else row.x0, row.box))
    return out


def _follows(text: ReadText, words: list[ReadText]) -> bool:
    """True for a single character that goes on with a word of its line; others are dirt, or what is left of a leader."""
    if not text.text.strip().isalnum():
        return False
    for w in words:
        level = abs(w.box.centre[1] - text.box.centre[1]) < 0.5 * w.box.height
        if level and -1.0 <= text.box.x0 - w.box.x1 < 1.4 * w.box.height and text.box.height > 0.75 * w.box.height:
            return True
    return False


def _trimmed(name: Claim) -> Claim:
    """Without the leader's dots at the end."""

    def bare(s: str) -> str:
        # what is left of the dots is read as ones and strokes: two or more of them at the end are no part of a name
        return re.sub(r"(?:(?:\s+[1IL|/.,'-]){2,}|[\s.·…,:_-]+)$", "", s)

    alternatives = tuple(Alternative(bare(a.text), a.probability) for a in name.alternatives)
    return replace(name, value=bare(name.value or ""), alternatives=alternatives)


def _split(facts: SheetFacts, text: ReadText, shape: re.Pattern[str]) -> tuple[Claim, tuple[Claim, ...]] | None:
    """A name and its zones found as one text, in the ``shape`` TAIL or HEAD."""
    match = shape.match(text.text.strip())
    if match is None or " " not in text.text.strip():
        return None
    whole = claim_of(facts, [text], None, BY)
    name = replace(whole, value=match["name"], alternatives=(Alternative(match["name"], whole.probability),))
    zones = tuple(
        replace(whole, value=z, alternatives=(Alternative(z, whole.probability),)) for z in _references(match["zones"])
    )
    return name, zones


def _references(text: str) -> list[str]:
    return [re.sub(r"[- ]", "", z) for z in re.findall(ONE_ZONE, text.upper())]


def zones_of(facts: SheetFacts, text: ReadText) -> tuple[Claim, ...]:
    """The zone references of one text, each with the alternatives that its part of the string has.

    The probability of each is that of the whole string's readings which give it at its place.
    """
    ranked = [(_references(a.text), a.probability) for a in readings_as(text, "zone")]
    ranked = [(z, p) for z, p in ranked if z]
    if not ranked:
        return (Claim(None, 0.0),)
    size = len(ranked[0][0])
    whole = claim_of(facts, [text], "zone", BY)
    out = []
    for k in range(size):
        weight: dict[str, float] = {}
        for zones, p in ranked:
            if len(zones) == size:
                weight[zones[k]] = weight.get(zones[k], 0.0) + p
        best = sorted(weight.items(), key=lambda q: (-q[1], q[0]))
        alternatives = tuple(Alternative(z, p) for z, p in best)
        out.append(Claim(best[0][0], best[0][1], alternatives, whole.evidence))
    return tuple(out)


def _entries(lines: list[_Line]) -> list[IndexLine]:
    """Lines of all columns, down and to the right → entries, with wrapped names, zones and sub-entries put together."""
    if not lines:
        return []
    steps = np.diff([x.box.centre[1] for x in lines])
    pitch = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
    out: list[IndexLine] = []
    parent: Claim | None = None
    k = 0
    while k < len(lines):
        line = lines[k]
        inside = line.x0 > INDENT
        if line.name is None:
            # zones alone go on with the entry right above them; far below stands the page's label
            if out and -pitch < line.box.y0 - out[-1].box.y1 < 2.2 * pitch:
                out[-1] = replace(out[-1], zones=(*out[-1].zones, *line.zones), box=union([out[-1].box, line.box]))
            k += 1
            continue
        if not inside:
            parent = None
        followers = _followers(lines, k)
        if not line.zones:
            if len(followers) >= 2 and not inside:
                parent = line.name
                k += 1
                continue
            close = k + 1 < len(lines) and 0 < lines[k + 1].box.centre[1] - line.box.centre[1] < 0.8 * pitch
            if k + 1 < len(lines) and lines[k + 1].name is not None and (close or (followers and not inside)):
                after = lines[k + 1]
                name = joined(line.name, after.name or Claim(None, 0.0), " ")
                lines[k + 1] = _Line(name, after.zones, line.x0, union([line.box, after.box]))
                k += 1
                continue
            if not inside:  # a heading, or an entry whose zone was not found: nothing is lost
                out.append(IndexLine(line.name, (), line.box))
            elif out:  # an indented line without zone goes on with the name before it
                name = joined(out[-1].name, line.name, " ")
                out[-1] = replace(out[-1], name=name, box=union([out[-1].box, line.box]))
            k += 1
            continue
        name = joined(parent, line.name, ", ") if parent is not None and inside else line.name
        if not inside and followers and all(f.zones for f in followers):
            parent = line.name
        out.append(IndexLine(name, line.zones, line.box))
        k += 1
    return out


def _followers(lines: list[_Line], k: int) -> list[_Line]:
    """The indented lines right below line ``k``."""
    out = []
    for line in lines[k + 1 :]:
        if line.name is None or line.x0 <= INDENT:
            break
        out.append(line)
    return out
