"""Which terminals of a many-way connector face each other, where the drawing alone leaves it open.

Wires that reach an oval at its ends or round a corner are easily paired wrongly by position. The codes know better: most
conductors keep their code through a connector, and where they do not, the chart row has both. The pairs of one drawing
are chosen as a maximum-weight matching over its terminals; the pairing that the sheet gave stands unless the codes are
clearly for another.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import combinations

import networkx as nx

from digitize.tables.state import ChartRow
from digitize.wiring.binding_dots import code_readings, pooled
from digitize.wiring.evidence import Prior, Reading, agreement, reading_of
from digitize.wiring.evidence_chart import Chart
from digitize.wiring.state import DrawnPlace, RunEnd, SheetWiring

KEEPS_CODE = 0.6
"""Share of conductors that have one code on both halves (common practice, no source)."""
AS_DRAWN = math.log(8.0)
"""What the sheet's own pairing is worth."""
CLEARLY = math.log(20.0)


def paired(sheet: SheetWiring, chart: Chart, prior: Prior) -> SheetWiring:
    """The same sheet with terminals of connectors paired by what is printed on their wires."""
    ends: dict[tuple[str, str], Reading | None] = {}
    for run in sorted(sheet.runs, key=lambda r: (min(r.points, r.points[::-1]), r.id)):
        reading = pooled(code_readings(run, sheet), prior)
        for end in run.ends:
            if end.kind == "place" and end.node is not None and end.terminal is not None:
                ends[end.node, end.terminal] = reading
    renamed: dict[tuple[str, str], str] = {}
    places = []
    for place in sheet.places:
        names = _names(place, ends, chart, prior) if _open(place) else {}
        renamed |= {(place.id, old): new for old, new in names.items()}
        places.append(_renamed(place, names, ends, chart, prior) if names else place)
    if not renamed:
        return sheet

    def moved(end: RunEnd) -> RunEnd:
        key = (end.node or "", end.terminal or "")
        return replace(end, terminal=renamed[key]) if end.kind == "place" and key in renamed else end

    runs = tuple(replace(r, ends=(moved(r.ends[0]), moved(r.ends[1]))) for r in sheet.runs)
    return replace(sheet, places=tuple(places), runs=runs)


def _open(place: DrawnPlace) -> bool:
    """More than one pair."""
    return place.kind == "connector" and len(place.terminals) > 2


def _names(
    place: DrawnPlace, ends: Mapping[tuple[str, str], Reading | None], chart: Chart, prior: Prior
) -> dict[str, str]:
    """Old terminal id → new one; empty when the sheet's pairing stands."""
    ids = sorted(t.id for t in place.terminals)
    weight = {}
    for x, y in combinations(ids, 2):
        drawn = AS_DRAWN if x[1:] == y[1:] else 0.0
        weight[x, y] = drawn + math.log(_factor(place, x, y, ends, chart, prior))
    graph = nx.Graph()
    graph.add_weighted_edges_from((x, y, w) for (x, y), w in sorted(weight.items()))
    # Every terminal faces another one: as many pairs as there can be, among those the best.
    best = sorted((min(p), max(p)) for p in nx.max_weight_matching(graph, maxcardinality=True))
    as_drawn = [(x, y) for x, y in combinations(ids, 2) if x[1:] == y[1:]]
    if sum(weight[p] for p in best) < sum(weight[p] for p in as_drawn) + CLEARLY:
        return {}
    at = {t.id: t.at for t in place.terminals}
    sided = [_sided(p, at) for p in best]
    sided.sort(key=lambda p: (at[p[0]][1], at[p[0]][0], at[p[1]]))
    names: dict[str, str] = {}
    for n, (a, b) in enumerate(sided, start=1):
        names |= {a: f"a{n}", b: f"b{n}"}
    alone = [i for i in ids if i not in names]
    names |= {i: f"{i[:1]}{n}" for n, i in enumerate(alone, start=len(sided) + 1)}
    return names


def _sided(pair: tuple[str, str], at: Mapping[str, tuple[float, float]]) -> tuple[str, str]:
    """(a, b): as they were called when one was a and one b, else the left or upper one first."""
    x, y = pair
    if x[:1] != y[:1]:
        return (x, y) if x[:1] == "a" else (y, x)
    return (x, y) if (at[x][0], at[x][1]) <= (at[y][0], at[y][1]) else (y, x)


def _factor(
    place: DrawnPlace,
    x: str,
    y: str,
    ends: Mapping[tuple[str, str], Reading | None],
    chart: Chart,
    prior: Prior,
) -> float:
    """Bayes factor for "these two face each other" from the codes of their wires and from the chart."""
    one, other = ends.get((place.id, x)), ends.get((place.id, y))
    if one is None or other is None:
        return 1.0
    same = KEEPS_CODE * agreement(one, other, prior) + 1.0 - KEEPS_CODE
    rows = chart.rows.get(place.label.value or "", ())
    listed = max((_row_factor(row, one, other, prior) for row, _ in rows), default=0.0)
    return max(same, listed / max(len(rows), 1), 1e-3)


def _row_factor(row: ChartRow, one: Reading, other: Reading, prior: Prior) -> float:
    """Bayes factor for "these two codes are the two halves of this row", either way round."""
    a, b = reading_of(row.a), reading_of(row.b)
    if a is None or b is None:
        return 0.0
    straight = agreement(one, a, prior) * agreement(other, b, prior)
    turned = agreement(one, b, prior) * agreement(other, a, prior)
    return max(straight, turned)


def _renamed(
    place: DrawnPlace,
    names: Mapping[str, str],
    ends: Mapping[tuple[str, str], Reading | None],
    chart: Chart,
    prior: Prior,
) -> DrawnPlace:
    """The place with new terminals; a printed cavity goes with the pair whose codes its chart row has."""
    printed = dict(zip(sorted({t.id[1:] for t in place.terminals}, key=_number), place.cavities, strict=False))
    rows = {row.cavity.value: row for row, _ in chart.rows.get(place.label.value or "", ())}
    numbers = sorted({n[1:] for n in names.values()}, key=_number)
    wishes = []
    for number in numbers:
        olds = sorted(old for old, new in names.items() if new[1:] == number)
        readings = [r for old in olds if (r := ends.get((place.id, old))) is not None]
        for cavity in {c for old in olds if (c := printed.get(old[1:])) is not None}:
            row = rows.get(cavity)
            fits = _row_factor(row, readings[0], readings[-1], prior) if row is not None and readings else 1.0
            wishes.append((-fits, number, cavity))
    given: dict[str, str] = {}
    for _, number, cavity in sorted(wishes):
        if number not in given and cavity not in given.values():
            given[number] = cavity
    terminals = [replace(t, id=names[t.id]) for t in place.terminals]
    return replace(
        place,
        terminals=tuple(sorted(terminals, key=lambda t: t.id)),
        cavities=tuple(given.get(number) for number in numbers),
    )


def _number(digits: str) -> tuple[int, str]:
    return (len(digits), digits)
