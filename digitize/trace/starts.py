"""What a question means: a part, a terminal, a connector's cavity, a wire, a splice, a ground or a zone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from digitize.errors import NotFound
from digitize.harness.folding import LOOK_ALIKES, folded, plain, solid, words_of
from digitize.harness.graph import Key, end_key, halves
from digitize.harness.model import Component
from digitize.harness.place import Box, Place
from digitize.trace.network import Network

LIKE = 84.0
"""Least likeness (rapidfuzz ratio of folded names, 0..100) at which a name is taken for a slip of the keys (own choice)."""

NEAREST = 5


@dataclass(frozen=True, slots=True)
class Start:
    """Where a trace can begin.

    ``keys`` are the terminals to leave from, in order; ``own`` the ids of what lies between them, which no way may pass
    again; ``names`` what it can be asked by; ``ask`` a word that means only this; ``place`` where it stands.
    """

    kind: str
    id: str
    name: str
    keys: tuple[Key, ...]
    own: frozenset[str]
    place: Place
    ask: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Meant:
    """The starts that a question may mean, and how loosely it had to be taken ("" when as typed)."""

    starts: tuple[Start, ...]
    taken: str = ""


class Starts:
    """All starts of a network, findable by name."""

    def __init__(self, network: Network) -> None:
        self._all = [
            *_components(network), *_connectors(network), *_wires(network), *_splices(network), *_grounds(network)
        ]  # fmt: skip
        self._names = [(name, s) for s in self._all for name in dict.fromkeys(s.names) if name]
        self._by_plain: dict[str, list[Start]] = {}
        self._by_solid: dict[str, list[Start]] = {}
        self._by_id: dict[str, list[Start]] = {}
        self._zones: dict[str, list[Start]] = {}
        for name, start in self._names:
            self._by_plain.setdefault(plain(name), []).append(start)
            self._by_solid.setdefault(solid(name), []).append(start)
        for s in self._all:
            self._by_id.setdefault(s.id, []).append(s)
            self._by_id.setdefault(s.ask, []).append(s)
            for zone in (s.place.zone, *s.place.zone_alternatives):
                if zone:
                    self._zones.setdefault(plain(zone), []).append(s)
        self._terminals = _terminals(network)

    def meant_by(self, asked: str) -> Meant:
        """What ``asked`` may mean. Raises NotFound, with the nearest names, when nothing in the manual is called so."""
        typed = asked.strip()
        if typed in self._by_id:
            return Meant(_once(self._by_id[typed]))
        node, _, terminal = typed.rpartition(".")
        for s in self._by_id.get(node, ()):
            at = self._at_terminal(s, plain(terminal))
            if at is not None:
                return Meant((at,))
        words = plain(typed)
        if words:
            for found in (self._named(typed, words), self._part_of(words), self._loosely(typed)):
                if found is not None:
                    return found
        near = self._nearest(typed)
        raise NotFound(
            f"Nothing in the manual is called {typed!r}.",
            f"Nearest: {', '.join(near)}." if near else "Ask with a printed name, a code, a connector or a zone.",
        )

    def _named(self, typed: str, words: str) -> Meant | None:
        if words in self._by_plain:
            return Meant(_once(self._by_plain[words]))
        here = self._zones.get(words.removeprefix("zone "))
        if here:
            parts = [s for s in here if s.kind not in {"wire", "splice", "connector", "ground"}]
            return Meant(_once(parts or here))
        alike = self._by_solid.get(solid(typed))
        return None if not alike else Meant(_once(alike), f"taken for {_said(alike[0])}")

    def _part_of(self, words: str) -> Meant | None:
        """``NAME TERMINAL`` or ``NAME ZONE``: the last word narrows what the words before it mean."""
        head, _, last = words.rpartition(" ")
        if not head:
            return None
        named = self._by_plain.get(head) or self._by_solid.get(solid(head)) or []
        here = {id(s) for s in self._zones.get(last, ())}
        in_zone = [s for s in named if id(s) in here]
        if in_zone:
            return Meant(_once(in_zone))
        narrowed = [n for s in named if (n := self._at_terminal(s, last)) is not None]
        return Meant(_once(narrowed)) if narrowed else None

    def _at_terminal(self, s: Start, label: str) -> Start | None:
        keys = tuple(k for k in s.keys if label in self._terminals.get(k, ()))
        if not keys or s.kind in {"wire", "connector"}:
            return None
        # the terminal itself was asked for, so its way may well lead through the part
        return Start(s.kind, s.id, s.name, keys, frozenset(), s.place, f"{s.id}.{keys[0][1]}", s.names)

    def _loosely(self, typed: str) -> Meant | None:
        """By the beginnings of its words in any order, look-alikes counting as one; else by a slip of the keys."""
        asked = [w.translate(LOOK_ALIKES) for w in words_of(typed)]
        begun = [
            s for name, s in self._names
            if all(any(w.startswith(a) for w in folded(name).split()) for a in asked)
        ]  # fmt: skip
        if begun:
            told = "" if len(_once(begun)) > 1 else f"taken for {_said(begun[0])}"
            return Meant(_once(begun), told)
        numbers = _numbered(typed)
        names = [(n, s) for n, s in self._names if _numbered(n) == numbers]
        like = process.extract(
            folded(typed), [folded(n) for n, _ in names], scorer=fuzz.ratio, score_cutoff=LIKE, limit=20
        )
        best = [names[i][1] for _, score, i in like if score == like[0][1]]
        return Meant(_once(best), f"taken for {_said(best[0])}") if best else None

    def _nearest(self, typed: str) -> list[str]:
        names = list(dict.fromkeys(" ".join(words_of(n)).upper() for n, _ in self._names))
        like = process.extract(folded(typed), [folded(n) for n in names], scorer=fuzz.WRatio, limit=NEAREST)
        return [names[i] for _, score, i in like if score > 0]


def _numbered(name: str) -> tuple[str, ...]:
    """The words of a name that hold a figure: with another one it is another fuse, wire or connector, and no slip."""
    return tuple(sorted(w.translate(LOOK_ALIKES) for w in words_of(name) if any(c.isdigit() for c in w)))


def _said(s: Start) -> str:
    return s.name or s.ask


def _once(starts: list[Start]) -> tuple[Start, ...]:
    return tuple({s.ask: s for s in starts}.values())


def _terminals(network: Network) -> dict[Key, set[str]]:
    """What each terminal of a part is called."""
    return {
        (c.id, t.id): {plain(x) for x in (t.id, t.label) if x and plain(x)}
        for c in network.harness.components
        for t in c.terminals
    }


def _components(network: Network) -> Iterator[Start]:
    by_id = network.graph.components
    for c in network.harness.components:
        keys = tuple((c.id, t.id) for t in c.terminals)
        name = c.name.value or ""
        yield Start(
            c.kind, c.id, name, keys, frozenset({c.id}), c.place, c.id, _called(c, name, by_id.get(c.parent or ""))
        )


def _called(c: Component, name: str, parent: Component | None) -> tuple[str, ...]:
    if not name:
        return ()
    kind = c.kind.replace("_", " ")
    if c.kind == "fuse":  # a fuse is printed with its number only
        block = parent.name.value if parent is not None else None
        return (f"{kind} {name}", f"{block} {name}" if block else "", f"{block} {kind} {name}" if block else "", name)
    return (name,)


def _connectors(network: Network) -> Iterator[Start]:
    for k in network.harness.connectors:
        for d in k.places:
            for n, (a, b) in enumerate(halves(d)):
                cavity = d.cavities[n] if n < len(d.cavities) else None
                label = k.label.value or k.id
                name = f"{label} {cavity}" if cavity else label
                yield Start(
                    "connector", d.id, name, ((d.id, a), (d.id, b)), frozenset({d.id}), d.place,
                    f"{d.id}.{a[1:]}", (label, f"{label} {cavity}" if cavity else "", k.id),
                )  # fmt: skip


def _wires(network: Network) -> Iterator[Start]:
    for w in network.harness.wires:
        seen = next((e.place for e in w.code.evidence if e.place is not None and e.kind != "chart"), None)
        at = w.ends[0].at
        place = seen or Place(w.ends[0].sheet, Box(*at, *at))
        keys = (end_key(w, 0), end_key(w, 1))
        name = w.code.value or ""
        yield Start("wire", w.id, name, keys, frozenset({w.id}), place, w.id, (name,))


def _splices(network: Network) -> Iterator[Start]:
    for s in network.harness.splices:
        yield Start("splice", s.id, "", ((s.id, "*"),), frozenset(), s.place, s.id, ())


def _grounds(network: Network) -> Iterator[Start]:
    for g in network.harness.grounds:
        yield Start(
            "ground", g.id, g.label.value or "", ((g.id, "1"),), frozenset(), g.place, g.id, (g.label.value or "",)
        )
