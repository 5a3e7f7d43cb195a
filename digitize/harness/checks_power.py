"""Checks of what current can do: loads without a feed or ground, fuses against wires, diodes the wrong way.

A reading that missed a line would set all of these off, so they speak only where nothing is left open: no dangling end
and no lonely page edge on any way from the part.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from digitize.harness.checks_drawing import place_of
from digitize.harness.checks_kinds import finding
from digitize.harness.checks_sizes import amperes, area_mm2, most_amperes
from digitize.harness.fuse_series import known_by
from digitize.harness.graph import PROTECTION, RESISTANCES, SWITCHES, Conductors, Hop, Key, conductors
from digitize.harness.model import Component, Finding, Harness, Wire
from digitize.harness.place import Place

SURE = 0.9
CONSUMERS = frozenset({"lamp", "motor", "horn", "heater", "solenoid", "sounder", "speaker"})
"""Kinds that need both a feed and a ground; a sensor or a gauge may hang on a module alone."""

PASSED = SWITCHES | RESISTANCES | {"diode"}
"""Kinds of parts between a feed and a load: with one wire alone they do nothing there (common practice, no source)."""

MOST_NAMED, MOST_ENDS = 3, 3
"""Loads named and ends shown in one finding."""

CAUTION = (
    " Handbook value, for orientation only: the vehicle's own manual decides, and work on a live vehicle needs the usual"
    " care (battery off, fuses in) or a licensed electrician."
)


def findings(harness: Harness) -> Iterator[Finding]:
    """All findings about feeds, grounds, fuses and diodes."""
    graph = conductors(harness)
    yield from _loads(harness, graph)
    system = harness.conventions.get("gauge system")
    yield from _fuses(harness, graph, system)


def _sources(harness: Harness, graph: Conductors) -> set[Key]:
    """Feeds, both sides of everything that protects, and the bars of fuse blocks, whose fuses may not all have been read."""
    blocks = {c.parent for c in harness.components if c.kind in PROTECTION}
    guarded = {c.id for c in harness.components if c.kind in PROTECTION or c.kind == "fuse_block" or c.id in blocks}
    return set(graph.feeds) | {(c.id, t.id) for c in harness.components if c.id in guarded for t in c.terminals}


def _loads(harness: Harness, graph: Conductors) -> Iterator[Finding]:
    sources = _sources(harness, graph)
    if not sources or not graph.grounds:
        return
    shaky = {w.id for w in harness.wires if w.probability < 0.5}
    fed_any = graph.reach(sources, lambda h: h.kind != "load")
    fed = graph.reach(sources, lambda h: h.kind != "load" and not h.open)
    drained_any = graph.reach(graph.grounds, lambda h: h.kind != "load")
    drained = graph.reach(
        graph.grounds, lambda h: h.kind != "load" and not (h.kind == "diode" and h.sure and not h.open)
    )
    islands: dict[tuple[str, frozenset[Key]], list[Component]] = defaultdict(list)
    for c in harness.components:
        if c.kind not in CONSUMERS or not c.terminals or c.probability < SURE:
            continue
        keys = [(c.id, t.id) for t in c.terminals]
        around = graph.reach(keys, lambda _: True)
        if any(k[1].startswith("end") and k[0] in graph.wires for k in around):
            continue
        if any(h is not None and h.by in shaky for h in around.values()) or not any(k in graph.hops for k in keys):
            continue
        if not set(around) & sources:
            islands["load-without-feed", frozenset(around)].append(c)
        elif not set(around) & graph.grounds:
            islands["load-without-ground", frozenset(around)].append(c)
        elif _only_against(keys, fed, fed_any) or _only_against(keys, drained, drained_any):
            yield finding(
                "diode-blocks-all",
                c.id,
                f"Every way to {_called(c)} runs against the arrow of a diode.",
                "Look at the diode on the scan: is its arrow read the right way round?",
                [c.place, *_diodes(around, graph)],
            )
    for (check, island), loads in sorted(islands.items(), key=lambda i: (i[0][0], i[1][0].id)):
        yield _island(check, loads, island, graph)


def _called(c: Component) -> str:
    return c.name.value or f"this {c.kind.replace('_', ' ')}"


def _island(check: str, loads: list[Component], island: frozenset[Key], graph: Conductors) -> Finding:
    """One finding for all loads that hang together and lack the same: at the part where the way stops, if there is one.

    A single line that was missed leaves all of them dark, and it is missed where the way ends, not at the loads.
    """
    names = list(dict.fromkeys(_called(c) for c in loads))
    which = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    if len(names) > MOST_NAMED:
        which = f"{', '.join(names[:MOST_NAMED])} and {len(names) - MOST_NAMED} more"
    ends = _dead_ends(island, graph)
    goal = "a battery, an alternator or a fuse" if check == "load-without-feed" else "a ground"
    what = f"No way leads from {which} to {goal}"
    if ends:
        why = f"{what}: as it was read, it ends at {_called(ends[0])}, which only one wire comes to."
    else:
        why = f"{what}."
    settle = (
        "Look along the wires on the scan for a joint or a page edge that was missed."
        if check == "load-without-feed"
        else "Does a case carry an earth mark that was missed, or is it earthed through its mounting?"
    )
    if ends:
        settle = "Look there on the scan: a line may have been missed, or the part may be none."
    subject = ends[0] if ends else loads[0]
    return finding(check, subject.id, why, settle, [c.place for c in (*ends, *loads)])


def _dead_ends(island: frozenset[Key], graph: Conductors) -> list[Component]:
    """Parts that current passes through but that only one wire comes to, the most doubtful first."""
    wired: dict[str, int] = defaultdict(int)
    for key in island:
        wired[key[0]] += sum(h.kind == "wire" for h in graph.hops.get(key, ()))
    parts = [graph.components[i] for i, count in wired.items() if i in graph.components and count == 1]
    through = [c for c in parts if c.kind in PASSED and not c.case_ground]
    return sorted(through, key=lambda c: (c.probability, c.id))[:MOST_ENDS]


def _only_against(keys: list[Key], directed: dict[Key, Hop | None], any_way: dict[Key, Hop | None]) -> bool:
    return any(k in any_way for k in keys) and not any(k in directed for k in keys)


def _diodes(around: dict[Key, Hop | None], graph: Conductors) -> list[Place]:
    ids = sorted({h.by for h in around.values() if h is not None and h.kind == "diode"})
    return [graph.components[i].place for i in ids]


# -- fuses ------------------------------------------------------------------------------------------------------------


def _fuses(harness: Harness, graph: Conductors, system: str | None) -> Iterator[Finding]:
    guards = _sources(harness, graph)
    for c in harness.components:
        if c.kind != "fuse":
            continue
        start = _load_side(c, graph)
        if start is None:
            continue
        reached = graph.reach([start], lambda h: h.kind in {"wire", "connector", "joined"})
        if any(k != start and k in guards for k in reached):
            continue  # joined to a feed or to another fuse: which of the two feeds the other, the drawing does not say
        wires = [graph.wires[h.by] for h in reached.values() if h is not None and h.kind == "wire"]
        sized = [(w, g) for w in wires if (g := _gauge(w)) is not None]
        yield from _too_large(c, sized, system)
        yield from _thicker(c, graph, reached, system)


def _load_side(c: Component, graph: Conductors) -> Key | None:
    """The terminal on the load's side: the only one of a fuse in a block; of two the one that reaches no feed."""
    keys = [(c.id, t.id) for t in c.terminals]
    if len(keys) == 1:
        return keys[0]
    feeding = [
        k
        for k in keys
        if set(graph.reach([k], lambda h: h.by != c.id and h.kind in {"wire", "connector", "joined", "protection"}))
        & graph.feeds
    ]
    rest = [k for k in keys if k not in feeding]
    return rest[0] if len(rest) == 1 and feeding else None


def _gauge(w: Wire) -> str | None:
    if w.parsed is None or w.code.probability < SURE or w.probability < SURE:
        return None
    return w.parsed.gauge


def _too_large(c: Component, sized: list[tuple[Wire, str]], system: str | None) -> Iterator[Finding]:
    rating = amperes(c.rating)
    limits = [(limit, w) for w, g in sized if (limit := most_amperes(g, system)) is not None]
    if rating is None or not limits:
        return
    limit, thinnest = min(limits, key=lambda pair: (pair[0], pair[1].id))
    if rating > limit:
        yield finding(
            "fuse-larger-than-wire",
            c.id,
            f"Fuse {c.name.value or ''} is {rating:g} A, but {thinnest.code.value} behind it should carry at most "
            f"{limit:g} A.",
            f"Check the fuse's rating and the size on the scan, and the fuse itself ({known_by(rating)}).{CAUTION}",
            [c.place, place_of(thinnest)],
        )


def _thicker(c: Component, graph: Conductors, reached: dict[Key, Hop | None], system: str | None) -> Iterator[Finding]:
    """A wire thicker than the one that feeds it, where nothing else can feed it."""
    onward: dict[Key, list[Wire]] = defaultdict(list)
    for hop in reached.values():
        if hop is not None and hop.kind == "wire":
            onward[hop.start].append(graph.wires[hop.by])
    for key, wires in sorted(onward.items()):
        before = next((h for h in reversed(graph.way(reached, key)) if h.kind == "wire"), None)
        thin = None if before is None else _area(graph.wires[before.by], system)
        if before is None or thin is None:
            continue
        for w in wires:
            thick = _area(w, system)
            if thick is None or thick <= thin * 1.02:
                continue
            far = next(h.end for h in reached.values() if h is not None and h.by == w.id and h.start == key)
            others = graph.reach([far], lambda h, w=w: h.by != w.id and h.kind != "load")  # type: ignore[misc]
            if any(
                k in graph.feeds or (k[0] in graph.components and graph.components[k[0]].kind in PROTECTION)
                for k in others
            ):
                continue
            yield finding(
                "thicker-downstream",
                w.id,
                f"Behind fuse {c.name.value or ''} {w.code.value} is thicker than {graph.wires[before.by].code.value} "
                "that feeds it.",
                "Check both sizes on the scan; a wire seldom gets thicker behind its fuse.",
                [place_of(w), place_of(graph.wires[before.by])],
            )


def _area(w: Wire, system: str | None) -> float | None:
    gauge = _gauge(w)
    return None if gauge is None else area_mm2(gauge, system)
