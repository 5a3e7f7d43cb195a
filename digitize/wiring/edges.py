"""Which page-edge marks are one conductor: one assignment over the whole manual.

A pair's weight is the logarithm of a Bayes factor times a prior: do the codes agree (``evidence.agreement``), do the
marks stand at the same height (many manuals draw so, not all), are the sheets neighbours, does the text beside one name
the other's sheet or zone. Left and right edges (and top and bottom) are matched as a linear sum assignment in which
every mark may also stay alone; arrows inside the sheets as a maximum-weight matching. The rates are common practice, no
source.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import networkx as nx
import numpy as np

from digitize.harness.claim import Claim
from digitize.harness.place import Box, Point
from digitize.wiring.evidence import Prior, Reading, agreement, assign, marginals, share

ALONE = 0.08
"""Chance that a mark has no partner on the pages at hand."""
HEIGHTS_MM = ((0.6, 2.5), (0.3, 15.0))
"""(share of links, spread in mm): most are drawn at one height on both pages, many at a similar one, some anywhere."""
NEXT_SHEET = 0.93
"""Share of edge links that lead to the neighbouring sheet; an arrow may lead anywhere."""
POSITION_ALONE = 0.95
NAMED = 60.0
"""Bayes factor when the text at one mark names the other's sheet or zone."""
SAME_SIGN, OTHER_SIGN = 20.0, 0.2
"""Bayes factors when both marks hold one short sign (a letter, a figure): both ends of a wire often share it."""
_SIGN = 2
"""A sign has at most so many characters."""


@dataclass(frozen=True, slots=True)
class EdgePort:
    """An edge mark with what is needed to match it.

    ``number``: the sheet's position in the manual, counting diagram sheets only; ``frame``: what ``at`` is measured
    from; ``names``: how others may refer to this place (sheet label, sheet number, zone), in capitals.
    """

    sheet: str
    number: int
    mark: str
    edge: str
    at: Point
    frame: Box
    code: Reading | None
    text: Claim | None = None
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class EdgeMatch:
    """Ports ``a`` and ``b`` (positions in the sequence given) are one conductor with ``probability``."""

    a: int
    b: int
    probability: float


_OPPOSITE = {"right": "left", "bottom": "top"}


def match_edges(ports: Sequence[EdgePort], prior: Prior) -> list[EdgeMatch]:
    """The best matching as a whole; each port in at most one match; ports without partner are simply absent."""
    found: list[EdgeMatch] = []
    for leaving, entering in _OPPOSITE.items():
        a = _sorted(ports, leaving)
        b = _sorted(ports, entering)
        found += _assigned(ports, a, b, prior)
    found += _matched(ports, _sorted(ports, "arrow"), prior)
    return found


def _sorted(ports: Sequence[EdgePort], edge: str) -> list[int]:
    return sorted((i for i, p in enumerate(ports) if p.edge == edge), key=lambda i: (ports[i].number, ports[i].mark))


def _assigned(ports: Sequence[EdgePort], a: list[int], b: list[int], prior: Prior) -> list[EdgeMatch]:
    if not a or not b:
        return []
    weight = np.array([[_log_odds(ports[i], ports[j], len(b), prior) for j in b] for i in a])
    chance = marginals(weight)
    return [_match(ports, a[r], b[c], float(chance[r, c])) for r, c in assign(weight)]


def _matched(ports: Sequence[EdgePort], arrows: list[int], prior: Prior) -> list[EdgeMatch]:
    if len(arrows) < 2:
        return []
    weight = np.full((len(arrows), len(arrows)), -1e6)
    graph = nx.Graph()
    for r, i in enumerate(arrows):
        for c in range(r + 1, len(arrows)):
            weight[r, c] = weight[c, r] = _log_odds(ports[i], ports[arrows[c]], len(arrows) - 1, prior)
            if weight[r, c] > 0.0:
                graph.add_edge(r, c, weight=float(weight[r, c]))
    pairs = sorted((min(p), max(p)) for p in nx.max_weight_matching(graph))
    return [_match(ports, arrows[r], arrows[c], share(weight, r, c)) for r, c in pairs]


def _match(ports: Sequence[EdgePort], a: int, b: int, probability: float) -> EdgeMatch:
    """Where a code is unread, position alone speaks, and it is never surer than ``POSITION_ALONE``."""
    blind = ports[a].code is None or ports[b].code is None
    return EdgeMatch(a, b, min(probability, POSITION_ALONE) if blind else probability)


def _log_odds(a: EdgePort, b: EdgePort, candidates: int, prior: Prior) -> float:
    """Log odds of "one conductor" against "both stay alone"."""
    gap = b.number - a.number
    if a.edge == "arrow":
        reach = 1.0
        side = 1.0
    else:
        if gap <= 0:
            return -1e6
        reach = NEXT_SHEET if gap == 1 else (1.0 - NEXT_SHEET) / gap
        side = _height_factor(a, b)
    odds = (1.0 - ALONE) / ALONE**2 / max(1, candidates) * reach * side * agreement(a.code, b.code, prior)
    if _names(a.text, b.names) or _names(b.text, a.names):
        odds *= NAMED
    else:
        odds *= _same_sign(a.text, b.text)
    return math.log(odds + 1e-12)


def _height_factor(a: EdgePort, b: EdgePort) -> float:
    """How much likelier one conductor stands at these two heights than any two marks would."""
    along = 1 if a.edge == "right" else 0
    length = max(a.frame.height if along else a.frame.width, 20.0)
    start = [(p.frame.y0 if along else p.frame.x0) for p in (a, b)]
    off = abs((a.at[along] - start[0]) - (b.at[along] - start[1]))
    bells = sum(
        share * math.exp(-0.5 * (off / spread) ** 2) / (spread * math.sqrt(2 * math.pi)) for share, spread in HEIGHTS_MM
    )
    return bells * length + 1.0 - sum(share for share, _ in HEIGHTS_MM)


def _same_sign(one: Claim | None, two: Claim | None) -> float:
    """What two signs in the marks say; nothing where one is unread, or longer: it then names a place."""
    signs = [c for c in (one, two) if c is not None and c.value is not None and len(c.value.strip()) <= _SIGN]
    if len(signs) < len((one, two)):
        return 1.0
    sure = signs[0].probability * signs[1].probability
    same = (signs[0].value or "").strip().upper() == (signs[1].value or "").strip().upper()
    return sure * (SAME_SIGN if same else OTHER_SIGN) + 1.0 - sure


def _names(text: Claim | None, names: tuple[str, ...]) -> bool:
    if text is None or text.value is None:
        return False
    words = set(re.findall(r"[A-Z0-9]+(?:-[A-Z0-9]+)*", text.value.upper()))
    return any(n in words for n in names)
