"""Follow a circuit: from anything in the harness to what feeds it and to ground, over all pages."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from digitize.errors import CalledWrongly
from digitize.harness.folding import plain
from digitize.harness.graph import PROTECTION, Key
from digitize.harness.model import Component, Harness
from digitize.trace.branches import branches_along, noted, over_feed, served_from
from digitize.trace.cautions import cautions_for
from digitize.trace.insides import left_open
from digitize.trace.legs import Legs
from digitize.trace.network import AS_ALLOWED, CONSUMERS, INSIDE, Network, Pass, Positions
from digitize.trace.reach import farthest
from digitize.trace.starts import Start, Starts
from digitize.trace.state import Candidate, Control, Stop, Trace, Way

GOALS = ("all", "feed", "ground", "fuse")
"""What a trace may ask for: everything; only what feeds it; only ground; the nearest fuse, whatever it feeds."""

MOST_CONTROLS = 6
"""Relays whose coils are followed in one trace."""


class Circuits:
    """A harness ready for many questions: the network, the names and the tables are made once.

    ``done``: ids of the sheets that a person went through at the desk; hops on them count as confirmed.
    """

    def __init__(self, harness: Harness, done: Iterable[str] = ()) -> None:
        self.network = Network(harness)
        self.harness = self.network.harness
        self._legs = Legs(self.network, frozenset(done))
        self._starts: Starts | None = None

    @property
    def starts(self) -> Starts:
        """Everything a trace can start from, by name."""
        if self._starts is None:
            self._starts = Starts(self.network)
        return self._starts

    def stop(self, key: Key) -> Stop:
        """The stop at a key: what it is called and where it stands."""
        return self._legs.stop(key)

    def words(self, wire: str) -> str:
        """A wire's code in words."""
        return self._legs.wording.code(self.network.graph.wires[wire].parsed)

    def positions(self, said: Iterable[tuple[str, str]]) -> Positions:
        """Positions of switches by name: ``off``, ``on`` or the terminal a key or lever joins.

        Raises:
            NotFound: nothing is called so.
            CalledWrongly: it is no switch, not one switch, or has no such terminal.
        """
        off: set[str] = set()
        only: list[tuple[str, str]] = []
        for name, position in said:
            c = self._switch(name)
            by_label = {plain(x): t.id for t in c.terminals for x in (t.id, t.label) if x}
            if plain(position) == "off":
                off.add(c.id)
            elif plain(position) in by_label:
                only.append((c.id, by_label[plain(position)]))
            elif plain(position) != "on":
                known = ", ".join(t.label or t.id for t in c.terminals)
                raise CalledWrongly(f"{name} has no position {position!r}.", f"Say on, off, or a terminal: {known}.")
        return Positions(frozenset(off), tuple(sorted(only)))

    def _switch(self, name: str) -> Component:
        starts = self.starts.meant_by(name).starts
        if len(starts) > 1:
            ids = ", ".join(s.ask for s in starts[:MOST_CONTROLS])
            raise CalledWrongly(f"{name!r} may mean {len(starts)} things.", f"Say which by its id: {ids}.")
        c = self.network.graph.components.get(starts[0].id)
        if c is None or not any(
            p.kind in {"switch", "contact"} for k in starts[0].keys for p in self.network.passages[k]
        ):
            raise CalledWrongly(f"{name!r} has no contact that could stand open.", "Name a switch, a key or a relay.")
        return c

    def trace(self, asked: str, goal: str = "all", positions: Positions = AS_ALLOWED) -> Trace:
        """Follow what ``asked`` names.

        Args:
            asked: a printed name, ``NAME TERMINAL``, ``NAME ZONE``, an id, a connector (and cavity), a wire code, a fuse
                by its number, or a zone; upper or lower case, look-alike letters and slips of the keys are forgiven.
            goal: one of ``GOALS``.
            positions: how switches stand; left out, every switch may be closed.

        Returns:
            The trace; with ``candidates`` and no ways when the name means several things.

        Raises:
            NotFound: nothing is called so; the message offers the nearest names.
            ValueError: an unknown ``goal``.
        """
        if goal not in GOALS:
            raise ValueError(f"no goal {goal!r}; there are {', '.join(GOALS)}")
        meant = self.starts.meant_by(asked)
        notes = left_open(self.network.graph, self.network.commons, positions.only)
        notes = (meant.taken, *notes) if meant.taken else notes
        if len(meant.starts) > 1 and self._one_conductor(meant.starts):
            many = f"the code is on {len(meant.starts)} wires that connectors join; followed from the first of them"
            notes = (*notes, many)
        elif len(meant.starts) > 1:
            return self._trace(asked, None, (), notes=notes, candidates=self.candidates(meant.starts))
        return self._follow(asked, meant.starts[0], goal, positions, notes)

    def _one_conductor(self, starts: Sequence[Start]) -> bool:
        """Whether all are wires and only connectors lie between them."""
        ids = {s.id for s in starts}
        if not ids <= set(self.network.graph.wires):
            return False
        joined = self.network.graph.reach(
            starts[0].keys, lambda h: h.kind == "connector" or (h.kind == "wire" and h.by in ids)
        )
        return all(k in joined for s in starts for k in s.keys)

    def candidates(self, starts: Iterable[Start]) -> tuple[Candidate, ...]:
        """Things that a question may mean, with their places, in the manual's order."""
        made = [Candidate(s.ask, s.kind, s.name, self._legs.spot(s.place)) for s in starts]
        return tuple(sorted(made, key=lambda c: (c.spot.page, c.spot.zone or "", c.name, c.ask)))

    def _follow(self, asked: str, s: Start, goal: str, positions: Positions, notes: tuple[str, ...]) -> Trace:
        chosen = _Chooser(self.network, s, positions)
        ways: list[Way] = []
        if goal == "fuse":
            ways += self._nearest(chosen, "fuse", s)
        if goal in {"all", "feed"}:
            for key, passes in chosen.feeds():
                ways += self._feed(s, key, passes, positions)
        if goal == "ground":
            ways += self._nearest(chosen, "ground", s)
        if goal == "all":
            ways += [self._way("ground", key, passes, s, positions) for key, passes in chosen.grounds()]
        ways = [over_feed(w, ways) for w in _once(ways)]
        serves = chosen.serves() if goal == "all" else ()
        controls = self._controls(ways, positions)
        return self._trace(asked, s, tuple(ways), controls, serves, (*notes, *chosen.notes(ways, goal)))

    def _trace(
        self, asked: str, s: Start | None, ways: tuple[Way, ...], controls: tuple[Control, ...] = (),
        serves: tuple[str, ...] = (), notes: tuple[str, ...] = (), candidates: tuple[Candidate, ...] = (),
    ) -> Trace:  # fmt: skip
        h = self.harness
        start = (
            None
            if s is None
            else Stop(
                s.id, s.keys[0][1] if s.keys else "", s.kind, s.name, self._legs.spot(s.place), self._legs.about(s.id)
            )
        )
        return Trace(
            asked, start, ways, cautions_for(self._texts(s, ways, serves, controls, candidates)), h.rights,
            h.conventions.get("vehicle", ""), controls, serves, candidates, notes,
        )  # fmt: skip

    def _texts(
        self, s: Start | None, ways: Iterable[Way], serves: Iterable[str], controls: Iterable[Control],
        candidates: Iterable[Candidate],
    ) -> Iterable[str]:  # fmt: skip
        """Everything a caution may be called for by."""
        yield from (() if s is None else (s.name, s.kind))
        yield from serves
        for c in candidates:
            yield from (c.name, c.kind)
        for way in (*ways, *(w for c in controls for w in c.ways)):
            for leg in way.legs:
                yield from (leg.words, leg.printed or "", leg.kind)
            for branch in way.branches:
                yield from (branch.words, *branch.reaches)
            if not way.found:
                yield from (way.ends.kind, way.ends.name)

    # ways

    def _feed(self, s: Start, key: Key, passes: list[Pass] | None, positions: Positions) -> list[Way]:
        """A way to the source, told in two parts: to the fuse, and on from it. Without a source, to the nearest fuse."""
        if passes is None:
            return [self._way("feed", key, None, s, positions)]
        reaches_source = bool(passes) and passes[-1].end in self.network.feeds
        if positions != AS_ALLOWED and not reaches_source and self.network.table("source").way(key) is not None:
            way = self._way("feed", key, passes, s, positions)
            return [noted(way, "as the switches stand, nothing feeds what it ends at: the way to the source is open")]
        cut = None if not reaches_source else next((i for i, p in enumerate(passes) if self._is_fuse(p)), None)
        if cut is None:
            way = self._way("feed", key, passes, s, positions)
            if way.ends.kind != "fuse" and s.kind != "fuse":
                other = next((leg.words for leg in way.legs if leg.kind == "fuse"), None)
                way = noted(
                    way, "no fuse is on this way as it is drawn" + (f", only what goes {other}" if other else "")
                )
            return [way]
        before, after = passes[:cut], passes[cut:]
        if not before:  # the fuse itself was asked for
            return [self._way("source", key, after, s, positions)]
        return [
            self._way("feed", key, before, s, positions),
            self._way("source", after[0].start, after, s, positions),
        ]

    def _is_fuse(self, p: Pass) -> bool:
        return p.kind in {"fuse", "bar"} and self.network.graph.components[p.by].kind == "fuse"

    def _nearest(self, chosen: _Chooser, goal: str, s: Start) -> list[Way]:
        if not chosen.keys:
            return []
        key, passes = chosen.nearest(goal)
        return [self._way(goal, key, passes, s, chosen.positions)]

    def _way(self, goal: str, key: Key, passes: list[Pass] | None, s: Start, positions: Positions) -> Way:
        missing = ""
        found = passes is not None
        if passes is None:
            passes, missing = farthest(self.network, key, goal, positions, s.own, self._legs)
        keys = (key, *(p.end for p in passes))
        legs = self._legs.legs(passes)
        branches = branches_along(self.network, passes, keys, positions, self._legs) if found else ()
        return Way(goal, found, self._legs.stop(keys[-1]), legs, keys, branches, missing)

    def _controls(self, ways: Iterable[Way], positions: Positions) -> tuple[Control, ...]:
        """The coils of the relays whose contacts are passed, and of the relays on their ways in turn."""
        made: dict[str, Control] = {}
        todo = list(ways)
        while todo:
            for leg in todo.pop(0).legs:
                c = self.network.graph.components.get(leg.id)
                if leg.kind != "contact" or c is None or c.id in made or len(made) >= MOST_CONTROLS:
                    continue
                made[c.id] = Control(c.id, c.name.value or "", ())
                coil = self._coil(c.id)
                if not coil:
                    continue
                s = Start(c.kind, c.id, c.name.value or "", tuple(coil), frozenset({c.id}), c.place, c.id, ())
                chosen = _Chooser(self.network, s, positions, consumer=True)
                own: list[Way] = []
                for key, passes in chosen.feeds():
                    own += self._feed(s, key, passes, positions)
                own += [self._way("ground", key, passes, s, positions) for key, passes in chosen.grounds()]
                made[c.id] = Control(c.id, c.name.value or "", tuple(own))
                todo += own
        return tuple(made.values())

    def _coil(self, part: str) -> list[Key]:
        """The terminals of a relay's or solenoid's coil."""
        inside = self.network.insides.get(part)
        if inside is not None:
            return [k for k in _keys(part, self.network) if k[1] in inside.coil]
        kinds = {k: {p.kind for p in self.network.passages[k]} for k in _keys(part, self.network)}
        return [k for k, passed in kinds.items() if "coil" in passed and "contact" not in passed]


class _Chooser:
    """Which terminals of a start lead to a feed and which to ground."""

    def __init__(self, network: Network, s: Start, positions: Positions, *, consumer: bool = False) -> None:
        self.network = network
        self.start = s
        self.positions = positions
        self.consumer = consumer or s.kind in CONSUMERS
        # a terminal without a wire is no reason to report that nothing leads on from it, unless there is no other
        wired = [k for k in s.keys if any(p.by not in s.own for p in network.passages.get(k, ()))]
        self.keys = wired or list(s.keys)
        c = network.graph.components.get(s.id)
        self.cased = c is not None and c.case_ground
        self._feeds = self._towards_feed()
        self._grounds = {k: self._towards("ground", k) for k in self.keys}
        self._fed, self._earthed = self._choose()

    def nearest(self, goal: str) -> tuple[Key, list[Pass] | None]:
        """The cheapest way from any terminal to a goal, not through the start itself; the case counts as ground."""
        if goal == "ground" and self.cased and self.start.kind != "switch":
            by_case = self._case()
            if by_case is not None:
                return by_case[0].start, by_case
        made = [(w, k) for k in self.keys if (w := self._towards(goal, k)) is not None]
        if not made:
            return self.keys[0], None
        way, key = min(made, key=lambda m: (_cost(m[0]), m[1]))
        return key, way

    def feeds(self) -> list[tuple[Key, list[Pass] | None]]:
        """The ways to a feed; one that is None (no way) only when there is no other and the start needs one."""
        if self.start.kind == "ground" or not self.keys:
            return []
        if not self._fed and (self.consumer or not (self._earthed or self._case())):
            spare = [k for k in self.keys if k not in self._earthed] or self.keys
            return [(spare[0], None)]
        return [(k, self._feeds[k]) for k in self._fed]

    def grounds(self) -> list[tuple[Key, list[Pass] | None]]:
        """The ways to ground, the case first."""
        if self.start.kind == "ground" or not self.keys:
            return []
        by_case = self._case()
        if by_case is not None:
            return [(by_case[0].start, by_case)]
        if self._earthed:
            return [(k, self._grounds[k]) for k in self._earthed]
        if not self.consumer:
            return []
        spare = [k for k in self.keys if k not in self._fed]
        return [(spare[0], None)] if spare else []

    def serves(self) -> tuple[str, ...]:
        """What a start that is no load feeds or earths."""
        if self.consumer:
            return ()
        ways_off = [k for k in self.keys if k not in self._fed]
        if self._fed:
            ways_off = [k for k in ways_off if k not in self._earthed]
        keys = self.keys if len(self.keys) == 1 else ways_off
        return served_from(self.network, keys, self.start.own | {self.start.id}, self.positions)

    def notes(self, ways: Iterable[Way], goal: str) -> tuple[str, ...]:
        """What to know of the start."""
        told: list[str] = []
        if not any(p.kind in {"wire", "bar"} for k in self.start.keys for p in self.network.passages.get(k, ())):
            told.append("no wire was read at it")
        if goal == "all" and self.consumer and not any(w.goal == "ground" for w in ways):
            told.append("its page draws no way to ground: it may be earthed through its mounting; look at the part")
        return tuple(told)

    def _choose(self) -> tuple[list[Key], list[Key]]:
        """(terminals that are fed, terminals that are earthed). A load needs one of its own for each."""
        fed = {k: _cost(w) for k, w in self._feeds.items() if w is not None}
        earthed = {k: _cost(w) for k, w in self._grounds.items() if w is not None}
        if self.start.kind in PROTECTION and fed:
            return [min(fed, key=lambda k: (fed[k], k))], []
        if self.consumer and len(self.keys) > 1 and not self._case():
            pairs = [(fed[f] + earthed[g], g) for g in earthed for f in fed if f != g]
            if pairs:
                ground = min(pairs)[1]
                return sorted(k for k in fed if k != ground), [ground]
            if fed:
                # No terminal is left for ground: what a fed terminal has towards ground is a neighbour's way.
                return sorted(fed), sorted(k for k in earthed if k not in fed)
            return [], sorted(earthed)
        if self.consumer:
            return sorted(fed), []
        if fed:  # through a relay of which nothing is known there may only be its coil
            earthed = {k: cost for k, cost in earthed.items() if not self._through_unread(self._grounds[k] or ())}
        by_cost = {k: fed[k] <= earthed.get(k, fed[k]) for k in fed}
        return sorted(k for k in fed if by_cost[k]), sorted(k for k in earthed if not by_cost.get(k, False))

    def _through_unread(self, way: Iterable[Pass]) -> bool:
        inside = self.network.insides
        return any(p.kind == "contact" and not p.sure and p.by not in inside for p in way)

    def _towards_feed(self) -> dict[Key, list[Pass] | None]:
        """To the source; to the nearest fuse or bar of a fuse block where no source can be reached."""
        ways = {k: self._towards("source", k) for k in self.keys}
        any_way = any(w is not None for w in ways.values())
        return {
            k: self._towards("feed", k) if w is None and (self.consumer or not any_way) else w for k, w in ways.items()
        }

    def _towards(self, goal: str, key: Key) -> list[Pass] | None:
        way = self.network.table(goal, self.positions).way(key)
        if way is None or self.start.kind in PROTECTION:
            return way
        return None if any(p.by in self.start.own for p in way) else way

    def _case(self) -> list[Pass] | None:
        if not self.cased:
            return None
        c = self.network.graph.components[self.start.id]
        if not self.consumer and c.kind not in {"sensor", "starter_solenoid"} and len(self.keys) > 1:
            return None
        for k in self.keys:
            for p in self.network.passages.get(k, ()):
                if p.end == (self.start.id, "case"):
                    return [p]
        return None


def _cost(passes: Iterable[Pass]) -> float:
    return sum((p.cost for p in passes), INSIDE)


def _keys(node: str, network: Network) -> list[Key]:
    return [(node, t.id) for t in network.graph.components[node].terminals if (node, t.id) in network.passages]


def _once(ways: Iterable[Way]) -> list[Way]:
    """Two terminals of one part behind one fuse share the way on from it: it is told once."""
    return list({(w.goal, w.keys): w for w in ways}.values())


def trace(
    harness: Harness, asked: str, goal: str = "all", positions: Positions = AS_ALLOWED, done: Iterable[str] = ()
) -> Trace:
    """Follow one thing in ``harness``; for many questions make ``Circuits`` once. See ``Circuits.trace``."""
    return Circuits(harness, done).trace(asked, goal, positions)
