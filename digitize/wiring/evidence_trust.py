"""How much to believe that something drawn is really there, once the whole manual has spoken.

The stages before binding say how sure they are of a line or a symbol by what it looks like. Binding knows more: the chart
lists this connector and the codes on both sides agree with it; the index sends this name to this zone; the wires at this
dot are of one circuit. A logistic model per kind of object puts that together. Its weights are coarse and set by hand: free
fits on drawn manuals did worse on styles that they had not seen. ``scripts/fit_trust.py`` fits them and prints log loss
and calibration error on manuals left out of the fit, and of these weights; take its weights only when they win there.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from digitize.harness.graph import halves
from digitize.harness.model import Component, DrawnConnector, Harness, Splice, Wire
from digitize.wiring.evidence import MOST_SURE

FEATURES: Mapping[str, tuple[str, ...]] = {
    "wire": (
        "one", "looks", "dangling", "splice ends", "chart agrees", "chart differs", "code", "no code", "kin", "ends look",
        "links",
    ),
    "component": ("one", "looks", "index zone", "index name", "name", "no name", "wired", "unwired", "fuse"),
    "connector": ("one", "looks", "in chart", "label", "wired", "cavities found"),
    "splice": ("one", "looks", "three meet", "none meet", "kin"),
}  # fmt: skip
"""Names of the features of each kind, in the order of ``WEIGHTS``."""

WEIGHTS: Mapping[str, tuple[float, ...]] = {
    "wire": (0.8, 1.0, -2.5, -0.6, 0.7, 0.0, 0.2, -1.5, 0.6, 0.3, 0.0),
    "component": (0.0, 1.0, 1.2, 0.6, 0.1, -0.5, 0.2, -0.8, 0.3),
    "connector": (0.0, 1.0, 1.2, 0.2, 0.5, 0.5),
    "splice": (-0.3, 1.0, 0.5, -1.0, 1.0),
}
"""Log odds a unit of each feature. Set by hand in coarse steps; see above for how they were checked."""

LEAST_SURE = 0.01
MOST_LOGIT = 6.0


def logit(p: float) -> float:
    """Log odds, held within ±6."""
    p = min(max(p, 1e-4), 1.0 - 1e-4)
    return min(max(math.log(p / (1.0 - p)), -MOST_LOGIT), MOST_LOGIT)


@dataclass(frozen=True, slots=True)
class _Around:
    """What stands around each object of a harness."""

    ends: Mapping[str, Sequence[tuple[str, Wire]]]
    looks: Mapping[str, float]
    charted: Mapping[tuple[str, str], str]


def _around(harness: Harness) -> _Around:
    ends: dict[str, list[tuple[str, Wire]]] = defaultdict(list)
    for w in harness.wires:
        for e in w.ends:
            if e.node is not None:
                ends[e.node].append((e.terminal or "", w))
    looks = {c.id: c.probability for c in harness.components}
    looks |= {s.id: s.probability for s in harness.splices} | {g.id: g.probability for g in harness.grounds}
    charted: dict[tuple[str, str], str] = {}
    for c in harness.connectors:
        rows = {r.label: r for r in c.cavities}
        for d in c.places:
            looks[d.id] = d.probability
            for (a, b), cavity in zip(halves(d), d.cavities, strict=False):
                row = rows.get(cavity or "")
                if row is not None:
                    charted |= {(d.id, t): half.value for t, half in ((a, row.a), (b, row.b)) if half.value is not None}
    return _Around(ends, looks, charted)


def features(harness: Harness) -> dict[str, dict[str, tuple[float, ...]]]:
    """For each kind of ``FEATURES`` the numbers of every object, by id."""
    around = _around(harness)
    return {
        "wire": {w.id: _of_wire(w, around) for w in harness.wires},
        "component": {c.id: _of_component(c, around) for c in harness.components},
        "connector": {
            d.id: _of_connector(d, bool(c.cavities), c.label.probability, around)
            for c in harness.connectors
            for d in c.places
        },
        "splice": {s.id: _of_splice(s, around) for s in harness.splices},
    }


def _of_wire(w: Wire, around: _Around) -> tuple[float, ...]:
    dangling = any(e.node is None for e in w.ends)
    says = [around.charted[k] for e in w.ends if (k := (e.node or "", e.terminal or "")) in around.charted]
    agree = sum(s == w.code.value for s in says)
    at_splices = [e.node for e in w.ends if e.node is not None and e.terminal == "*"]
    kin = sum(_kin(w, [x for _, x in around.ends[node]]) for node in at_splices)
    sure = w.probability * (2.0 if dangling else 1.0)
    return (
        1.0,
        logit(sure),
        float(dangling),
        float(len(at_splices)),
        float(agree),
        float(len(says) - agree),
        logit(w.code.probability) if w.code.value is not None else 0.0,
        float(w.code.value is None),
        float(kin),
        min(
            (logit(around.looks[e.node]) for e in w.ends if e.node is not None and e.node in around.looks), default=0.0
        ),
        float(len(w.links)),
    )


def _kin(w: Wire, others: Iterable[Wire]) -> bool:
    """Another wire at the same dot carries the same circuit and number."""
    if w.parsed is None:
        return False
    mine = (w.parsed.circuit, w.parsed.number, w.parsed.colour)
    return any(
        o.id != w.id and o.parsed is not None and (o.parsed.circuit, o.parsed.number, o.parsed.colour) == mine
        for o in others
    )


def _of_component(c: Component, around: _Around) -> tuple[float, ...]:
    zones = {c.place.zone, *c.place.zone_alternatives}
    index = [e.says for e in c.name.evidence if e.kind == "index"]
    wired = len(around.ends.get(c.id, ()))
    return (
        1.0,
        logit(c.probability),
        float(any(says.rsplit(" ", 1)[-1] in zones for says in index)),
        float(bool(index)),
        logit(c.name.probability) if c.name.value is not None else 0.0,
        float(c.name.value is None),
        float(min(wired, 4)),
        float(wired == 0),
        float(c.kind == "fuse"),
    )


def _of_connector(d: DrawnConnector, listed: bool, label: float, around: _Around) -> tuple[float, ...]:
    pairs = max(len(halves(d)), 1)
    return (
        1.0,
        logit(d.probability),
        float(listed),
        logit(label),
        min(len(around.ends.get(d.id, ())) / (2 * pairs), 1.0),
        sum(c is not None for c in d.cavities) / pairs,
    )


def _of_splice(s: Splice, around: _Around) -> tuple[float, ...]:
    wires = [w for _, w in around.ends.get(s.id, ())]
    kin = sum(_kin(w, wires) for w in wires) / max(len(wires), 1)
    return (1.0, logit(s.probability), float(len(wires) >= 3), float(not wires), kin)


def weighed(harness: Harness) -> Harness:
    """The same harness with the probabilities of wires, components, connectors and splices weighed by the whole manual."""
    numbers = features(harness)
    trust = {
        kind: {id_: _chance(values, WEIGHTS[kind]) for id_, values in by_id.items()} for kind, by_id in numbers.items()
    }
    return replace(
        harness,
        wires=tuple(replace(w, probability=trust["wire"][w.id]) for w in harness.wires),
        components=tuple(replace(c, probability=trust["component"][c.id]) for c in harness.components),
        connectors=tuple(
            replace(c, places=tuple(replace(d, probability=trust["connector"][d.id]) for d in c.places))
            for c in harness.connectors
        ),
        splices=tuple(replace(s, probability=trust["splice"][s.id]) for s in harness.splices),
    )


def _chance(values: Sequence[float], weights: Sequence[float]) -> float:
    score = sum(v * w for v, w in zip(values, weights, strict=True))
    return min(max(1.0 / (1.0 + math.exp(-min(max(score, -30.0), 30.0))), LEAST_SURE), MOST_SURE)
