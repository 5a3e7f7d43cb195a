"""ReadMarks → SheetWiring: what the marks of one diagram sheet mean on that sheet alone."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box, Point
from digitize.ink.state import Marks
from digitize.legend.colour_words import named_colours
from digitize.reading.state import ReadMarks, ReadText
from digitize.tables.key_table import KEY, find_key_tables
from digitize.wiring.barred_grounds import with_barred_grounds
from digitize.wiring.bundles import through_sleeves
from digitize.wiring.codes import Attached
from digitize.wiring.colours_joined import colours_joined
from digitize.wiring.edge_bodies import named_edge, without_edge_bodies
from digitize.wiring.flags import without_flags
from digitize.wiring.identifiers import NO_PREFIXES, Prefixes
from digitize.wiring.lettered_bodies import with_lettered_bodies
from digitize.wiring.letters_in_lines import without_letters
from digitize.wiring.named_boxes import with_named_boxes
from digitize.wiring.named_connectors import with_named_connectors
from digitize.wiring.named_grommets import with_named_grommets
from digitize.wiring.named_grounds import with_named_grounds
from digitize.wiring.names import claim_of
from digitize.wiring.outlined_connectors import with_outlined_connectors
from digitize.wiring.paired_signs import with_paired_signs
from digitize.wiring.past_cavities import past_cavities
from digitize.wiring.places import Placed, StopKey, place_all
from digitize.wiring.sieve import Lines, length_of, wires_of
from digitize.wiring.state import DrawnPlace, DrawnSplice, EdgeMark, Run, RunCode, RunEnd, SheetText, SheetWiring
from digitize.wiring.tails import tail_height
from digitize.wiring.trails import Stop, Trail
from digitize.wiring.windings import with_windings

_CASE = 9.0
"""A ground at the end of a line without a code, at most so long, is the mark of an earthed case, mm."""
_HANGS = 5.0
"""An earth mark without any wire hangs on the part that stands so near, mm."""
_NO_CASE = ("ground", "connector", "grommet", "fuse")
_USUAL = 0.7
"""Where at least this share of the wires carries a code, a line without one is rarely a wire."""
_IDLE = 0.4
"""A drawing that no wire reaches and no lettering names is dropped below this probability."""
_LETTERING, _STRING = 0.9, 6
"""So probably lettering, with so many letters and figures, is a string worth a look though it was hardly read."""
_AT_EDGE = 60.0
"""A code so near to the edge, along its run, is the code that is repeated overleaf, mm."""


def understand(read: ReadMarks, stated: Prefixes = NO_PREFIXES) -> SheetWiring:
    """Runs, places, splices, page edges and crossings of one sheet. ``stated``: what the manual says of the names of signs."""
    texts = colours_joined(read.texts)
    facts = read.marks.sheet.facts
    tables = find_key_tables(facts, texts)
    listed = {k for k, t in enumerate(texts) if any(t.block in table.blocks for table in tables)}
    known = {line.key.value for table in tables for line in table.lines}
    code_texts = [(k, t) for k, t in enumerate(texts) if k not in listed and _is_code(t) and _explained(t, known)]
    marks = with_named_boxes(past_cavities(without_letters(read.marks, texts)), texts)
    marks = with_named_grommets(marks, texts, stated)
    marks, texts = with_paired_signs(marks, texts, stated)
    marks = with_named_connectors(with_outlined_connectors(marks, texts), texts, stated)
    marks = with_barred_grounds(with_named_grounds(marks, texts, stated), texts, stated)
    marks, at_border = without_edge_bodies(marks, texts)
    marks = with_lettered_bodies(without_flags(marks, texts), texts)
    lines = wires_of(with_windings(_beside(marks, [table.box for table in tables])), code_texts)
    named = with_named_connectors(lines.marks, texts, stated, lines.trails)
    lines = through_sleeves(replace(lines, marks=with_named_grounds(named, texts, stated, lines.trails)), texts)
    stops = {
        (n, side): (stop.what, stop.at)
        for n, trail in enumerate(lines.trails)
        for side, stop in enumerate(trail.stops)
        if stop.kind == "body" and stop.what is not None
    }
    overleaf = {k for body in at_border for k in body.texts}
    taken = {a.text for a in lines.codes} | _outside(texts, facts.frame) | listed | overleaf
    placed = place_all(facts.sheet, lines.marks.symbols, stops, texts, taken, read.marks.sheet.ink)
    lines, placed = _earthed_cases(lines, placed)
    splices = _splices(lines)
    edges = {
        key: (named_edge(mark, at_border, texts, facts.sheet), at)
        for key, (mark, at) in _edges(lines, facts.frame).items()
    }
    runs = _runs(lines, texts, placed, splices, edges, facts.sheet)
    crossings = tuple(m.at for m in lines.marks.meetings if m.kind == "cross")
    lettering = {n: block.probability for n, block in enumerate(read.marks.texts)}
    roles = dict.fromkeys(listed, "key") | dict.fromkeys(overleaf, "edge") | dict(placed.roles)
    roles.update({a.text: "code" for a in lines.codes})
    return SheetWiring(
        facts=facts,
        places=_with_wires(placed.places, runs),
        splices=tuple(s for s, _ in splices.values()),
        runs=runs,
        edges=tuple(e for e, _ in edges.values()),
        crossings=crossings,
        texts=tuple(
            _sheet_text(t, roles.get(k, _loose_role(t, facts.frame)), read.marks.sheet.ink)
            for k, t in enumerate(texts)
            if t.text and (k in roles or not _is_speck(t, lettering.get(t.block, 0.0)))
        ),
        keys=tuple(line for table in tables for line in table.lines),
    )


def _beside(marks: Marks, tables: Sequence[Box]) -> Marks:
    """The marks without what was taken for symbols inside a table of keys."""
    if not tables:
        return marks
    return replace(
        marks, symbols=tuple(s for s in marks.symbols if not any(b.holds(s.box.centre, 2.0) for b in tables))
    )


def _is_speck(t: ReadText, lettering: float) -> bool:
    """True for what is hardly lettering and what nothing on the sheet has a use for: dirt, bits of symbols.

    A long string is seldom read right to its last sign, but a string it is. ``lettering``: the chance that its block is any.
    """
    if lettering >= _LETTERING and sum(c.isalnum() for c in t.text) >= _STRING:
        return False
    return t.probability < (0.4 if len(t.text) == 1 else 0.2)


def _is_code(t: ReadText) -> bool:
    return t.kind == "code" or sum(a.probability for a in t.of_kind("code")) > 0.3


def _explained(t: ReadText, known: set[str | None]) -> bool:
    """False for a short string that could be a key, where the sheet's table of keys does not list it."""
    return not known or KEY.fullmatch(t.text) is None or t.text in known


def _outside(texts: Sequence[ReadText], frame: Box | None) -> set[int]:
    return {k for k, t in enumerate(texts) if frame is not None and not frame.holds(t.box.centre)}


def _loose_role(t: ReadText, frame: Box | None) -> str:
    if frame is not None and not frame.holds(t.box.centre):
        return "zone" if len(t.text) <= 2 else "page_label"
    return "code" if t.kind == "code" else "note"


def _sheet_text(t: ReadText, role: str, ink: NDArray[np.uint8]) -> SheetText:
    """The text as printed; read along the grammar its role asks for."""
    kind = {"code": "code", "connector": "connector", "grommet": "connector", "ground": "connector"}.get(role)
    ranked = t.of_kind(kind) if kind else ()
    tail = tail_height(ink, t.box, t.angle, t.text) if (named_colours(t.text) or ("", None))[1] is not None else None
    if ranked and sum(a.probability for a in ranked) > 0.02:
        other = tuple((a.text, a.probability) for a in ranked[:5])
        # what the page says of the reading counts where it is the one that stands
        sure = t.probability if ranked[0].text == t.text else ranked[0].probability
        return SheetText(ranked[0].text, role, t.box, sure, other, tail)
    return SheetText(t.text, role, t.box, t.probability, tuple((a.text, a.probability) for a in t.free[:5]), tail)


def _earthed_cases(lines: Lines, placed: Placed) -> tuple[Lines, Placed]:
    """A short line without a code from a part to a ground is no wire: the ground is the part's earthed case."""
    by_id = {p.id: p for p in placed.places}
    coded = {a.trail for a in lines.codes}
    longest = _CASE if len(coded) < _USUAL * len(lines.trails) else 1.6 * _CASE
    drop: set[int] = set()
    cased: dict[str, Box] = {}
    gone: set[str] = set()
    for n, trail in enumerate(lines.trails):
        ends = [placed.terminal.get((n, side)) for side in (0, 1)]
        if n in coded or None in ends or length_of(trail) > longest:
            continue
        pair = [by_id[e[0]] for e in ends if e is not None]
        grounds = [p for p in pair if p.kind == "ground"]
        parts = [p for p in pair if p.kind not in ("ground", "connector", "grommet")]
        if len(grounds) == 1 and len(parts) == 1:
            drop.add(n)
            cased[parts[0].id] = grounds[0].box
            gone.add(grounds[0].id)
    for ground in (p for p in placed.places if p.kind == "ground" and p.id not in gone):
        touching = [p for p in placed.places if p.kind not in _NO_CASE and _hangs_on(ground.box, p.box)]
        if touching and not any(place == ground.id for place, _ in placed.terminal.values()):
            cased[min(touching, key=lambda p: _apart(p.box, ground.box)).id] = ground.box
            gone.add(ground.id)
    if not gone:
        return lines, placed
    order = [n for n in range(len(lines.trails)) if n not in drop]
    renumber = {n: i for i, n in enumerate(order)}
    terminal = {(renumber[n], side): v for (n, side), v in placed.terminal.items() if n in renumber}
    kept = set(terminal.values())
    places = [
        replace(
            p,
            case_ground=True,
            box=Box.enclosing([p.box, cased[p.id]]),
            terminals=tuple(t for t in p.terminals if (p.id, t.id) in kept),
        )
        if p.id in cased
        else p
        for p in placed.places
        if p.id not in gone
    ]
    trails = tuple(lines.trails[n] for n in order)
    codes = tuple(replace(a, trail=renumber[a.trail]) for a in lines.codes)
    return Lines(lines.marks, trails, codes), Placed(tuple(places), terminal, placed.roles)


def _hangs_on(ground: Box, part: Box) -> bool:
    """True when an earth mark stands close to a part, straight below, above or beside it."""
    x, y = ground.centre
    in_line = part.x0 - 1.0 <= x <= part.x1 + 1.0 or part.y0 - 1.0 <= y <= part.y1 + 1.0
    return _apart(ground, part) <= (_HANGS if in_line else 1.6)


def _apart(a: Box, b: Box) -> float:
    """Gap between two boxes, mm; 0 when they touch."""
    return math.hypot(max(a.x0 - b.x1, b.x0 - a.x1, 0.0), max(a.y0 - b.y1, b.y0 - a.y1, 0.0))


def _splices(lines: Lines) -> dict[int, tuple[DrawnSplice, Point]]:
    """Meeting → splice, for the joins at which wires stop."""
    degree: dict[int, int] = defaultdict(int)
    for trail in lines.trails:
        for s in trail.stops:
            if s.kind == "join" and s.what is not None:
                degree[s.what] += 1
    out: dict[int, tuple[DrawnSplice, Point]] = {}
    for n, k in enumerate(sorted(degree, key=lambda k: (lines.marks.meetings[k].at[1], lines.marks.meetings[k].at[0]))):
        m = lines.marks.meetings[k]
        out[k] = (
            DrawnSplice(f"s{n:03d}", m.at, degree[k], m.probability if degree[k] > 2 else 0.7 * m.probability),
            m.at,
        )
    return out


def _edges(lines: Lines, frame: Box | None) -> dict[StopKey, tuple[EdgeMark, Point]]:
    """Trail end → edge mark, numbered top to bottom."""
    found = [((n, side), s) for n, t in enumerate(lines.trails) for side, s in enumerate(t.stops) if s.kind == "edge"]
    out: dict[StopKey, tuple[EdgeMark, Point]] = {}
    for n, (key, stop) in enumerate(sorted(found, key=lambda f: (f[1].side or "", f[1].at[1], f[1].at[0]))):
        at = stop.at
        if frame is not None and stop.side in ("left", "right"):
            at = (frame.x0 + 1.0 if stop.side == "left" else frame.x1 - 1.0, at[1])
        out[key] = (EdgeMark(f"e{n:03d}", stop.side or "right", at), at)
    return out


def _runs(
    lines: Lines,
    texts: Sequence[ReadText],
    placed: Placed,
    splices: dict[int, tuple[DrawnSplice, Point]],
    edges: dict[StopKey, tuple[EdgeMark, Point]],
    sheet: str,
) -> tuple[Run, ...]:
    """One run for each trail, in reading order."""
    usual = len({a.trail for a in lines.codes}) >= _USUAL * len(lines.trails)
    codes: dict[int, list[Attached]] = defaultdict(list)
    for a in lines.codes:
        codes[a.trail].append(a)
    order = sorted(
        range(len(lines.trails)),
        key=lambda n: (round(Box.around(lines.trails[n].points).y0, 1), lines.trails[n].points[0]),
    )
    out = []
    for i, n in enumerate(order):
        trail = lines.trails[n]
        ends = (
            _end((n, 0), trail.stops[0], placed, splices, edges),
            _end((n, 1), trail.stops[1], placed, splices, edges),
        )
        length = length_of(trail)
        run_codes = []
        for a in sorted(codes[n], key=lambda a: a.along):
            near = next(
                (
                    ends[side].node
                    for side in (0, 1)
                    if ends[side].kind == "edge" and abs(a.along - side) * length <= _AT_EDGE
                ),
                None,
            )
            run_codes.append(
                RunCode(claim_of([texts[a.text]], sheet, "code"), texts[a.text].box, a.belongs, a.along, near)
            )
        grommets = tuple(
            p.id
            for b in trail.bridges
            if b.over == "grommet" and b.what is not None
            for p in placed.places
            if p.kind == "grommet" and p.box == lines.marks.symbols[b.what].box
        )
        points = trail.points
        points = (ends[0].at, *points[1:-1], ends[1].at) if len(points) > 1 else points
        out.append(
            Run(
                f"r{i:03d}",
                ends,
                points,
                trail.width,
                tuple(run_codes),
                grommets,
                _sureness(trail, ends, lines.marks, coded=bool(run_codes), usual=usual),
            )
        )
    return tuple(out)


def _end(
    key: StopKey,
    stop: Stop,
    placed: Placed,
    splices: dict[int, tuple[DrawnSplice, Point]],
    edges: dict[StopKey, tuple[EdgeMark, Point]],
) -> RunEnd:
    if stop.kind == "join" and stop.what in splices:
        splice, at = splices[stop.what]
        return RunEnd("splice", splice.id, "*", at)
    if stop.kind == "edge" and key in edges:
        mark, at = edges[key]
        return RunEnd("edge", mark.id, None, at)
    if stop.kind == "body" and key in placed.terminal:
        place, name = placed.terminal[key]
        return RunEnd("place", place, name, stop.at)
    return RunEnd("open", None, None, stop.at)


def _sureness(trail: Trail, ends: tuple[RunEnd, RunEnd], marks: Marks, *, coded: bool, usual: bool) -> float:
    """Probability that both ends of a run are right, from its turns, its stops and whether it carries a code.

    The weights were fitted by hand to generated sections (``fixtures.sections``), so that of the runs given 0.9, nine in
    ten are right; ``usual``: most wires of the sheet carry codes.
    """
    p = trail.probability
    for end, stop in zip(ends, trail.stops, strict=True):
        if end.kind == "open":
            p *= 0.2
        elif stop.kind == "body" and stop.what is not None:
            p *= 0.95 + 0.045 * marks.symbols[stop.what].probability
        elif stop.kind == "join" and stop.what is not None:
            p *= 0.55 + 0.445 * marks.meetings[stop.what].probability
        else:
            p *= 0.985
    if coded:
        return p
    return p * (0.45 if usual else 0.9)


def _with_wires(places: tuple[DrawnPlace, ...], runs: tuple[Run, ...]) -> tuple[DrawnPlace, ...]:
    """Places in order; a part that no run reaches, and whose name was not read, is doubtful."""
    reached = {e.node for r in runs for e in r.ends}
    passed = {g for r in runs for g in r.grommets}
    out = []
    for p in places:
        idle = p.id not in reached | passed and p.label.value is None and p.kind != "fuse"
        if not idle:
            out.append(p)
        elif p.probability >= _IDLE:
            out.append(replace(p, probability=0.5 * p.probability))
    return tuple(out)
