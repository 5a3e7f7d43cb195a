"""Chart entries that name a connector nobody drew, and drawn connectors that no entry names: matched by global assignment.

An id that was misread in the chart leaves both alone. Each such pair has a Bayes factor from how the id reads and from how
well the entry's rows fit the codes drawn there; all pairs are matched at once, as everywhere in binding
(``evidence.assign``).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from digitize.harness.claim import Alternative, Claim, Evidence
from digitize.harness.model import DrawnConnector
from digitize.wiring.evidence import MOST_SURE, Reading, assign, marginals, reading_of
from digitize.wiring.evidence_chart import (
    CONNECTORS_PRINT_MANY,
    IN_CHART,
    UNREAD,
    WORN,
    Chart,
    Ends,
    content_factor,
    parts_left,
)
from digitize.wiring.evidence_codes import CodeSense

SURE = 0.9
"""A drawn id must be read so surely before it may name an entry."""
LEAST = 20.0
"""Bayes factor from which on an entry takes the drawn id."""


def named_by_drawing(
    chart: Chart, drawn: Sequence[DrawnConnector], labels: Mapping[str, Claim], ends: Ends, codes: CodeSense, by: str
) -> Chart:
    """The chart with misread and unread ids put right by the drawings whose codes stand in their rows.

    What no drawing names and no id heads is left out: nobody could say whose cavities those are.
    """
    by_id: dict[str, list[DrawnConnector]] = {}
    likely: set[str] = set()
    for d in drawn:
        label = labels[d.id]
        if label.value is not None:
            likely |= {a.text for a in label.alternatives if a.probability > 1.0 - SURE} | {label.value}
            if label.probability >= SURE:
                by_id.setdefault(label.value, []).append(d)
    names = [n for n in chart.entries if n not in likely]
    # a drawn id that is one of the chart but for its first or last sign is the worn one of the two (``settle_labels``)
    whole = [n for n in names if chart.entries[n].connector.probability >= SURE]
    worn = {part for n in whole for part in parts_left(n)}
    ids = sorted(i for i in by_id if i not in chart.entries and i not in worn)
    if not names or not ids:
        return _named(chart)
    weight = np.full((len(names), len(ids)), -50.0)
    for i, name in enumerate(names):
        reading = reading_of(chart.entries[name].connector)
        for j, id_ in enumerate(ids):
            alike = CONNECTORS_PRINT_MANY if reading is None else _alike(reading, id_)
            fits = math.prod(content_factor(d, chart.rows[name], ends, codes) for d in by_id[id_])
            weight[i, j] = math.log(IN_CHART * alike / CONNECTORS_PRINT_MANY * fits / len(names) + 1e-12)
    chance = marginals(weight)
    new = {names[i]: (ids[j], float(chance[i, j])) for i, j in assign(weight) if weight[i, j] > math.log(LEAST)}
    if not new:
        return _named(chart)
    entries, places, rows = {}, {}, {}
    for name, entry in chart.entries.items():
        id_, sure = new.get(name, (name, 0.0))
        places[id_], rows[id_] = chart.places[name], chart.rows[name]
        entries[id_] = entry
        if name in new:
            says = Evidence("drawn", id_, sure, by, by_id[id_][0].place)
            read = entry.connector
            others = tuple(a for a in read.alternatives if a.text != id_)
            claim = Claim(id_, min(sure, MOST_SURE), (Alternative(id_, sure), *others), (*read.evidence, says))
            entries[id_] = replace(entry, connector=claim)
    return _named(Chart(entries, places, rows))


def _alike(reading: Reading, id_: str) -> float:
    """Chance that the id was read so: as it is, or without its first sign, or its last, that has worn away."""
    return max([reading.chance(id_), *(WORN * reading.chance(rest) for rest in parts_left(id_))])


def _named(chart: Chart) -> Chart:
    """The chart without entries that have no id."""
    kept = [n for n in chart.entries if not n.startswith(UNREAD)]
    if len(kept) == len(chart.entries):
        return chart
    return Chart(
        {n: chart.entries[n] for n in kept}, {n: chart.places[n] for n in kept}, {n: chart.rows[n] for n in kept}
    )
