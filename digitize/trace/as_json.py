"""A trace as a plain structure for ``json.dumps``; README.md explains it. Lengths in sheet mm, y downwards."""

from __future__ import annotations

from typing import Any

from digitize.trace.state import Branch, Candidate, Fitting, Leg, Spot, Stop, Trace, Turn, Way

FORMAT = "digitize-trace-1"
"""Grows when a field is taken away or changes its meaning; new fields may come at any time."""


def trace_as_json(trace: Trace) -> dict[str, Any]:
    """The whole trace."""
    return {
        "format": FORMAT,
        "rights": trace.rights,
        "vehicle": trace.vehicle or None,
        "asked": trace.asked,
        "cautions": [{"id": c.id, "text": c.text} for c in trace.cautions],
        "start": None if trace.start is None else _stop(trace.start),
        "notes": list(trace.notes),
        "candidates": [_candidate(c) for c in trace.candidates],
        "ways": [_way(w) for w in trace.ways],
        "controls": [
            {"id": c.id, "name": c.name or None, "ways": [_way(w) for w in c.ways]} for c in trace.controls
        ],
        "serves": list(trace.serves),
    }  # fmt: skip


def _candidate(c: Candidate) -> dict[str, Any]:
    return {"ask": c.ask, "kind": c.kind, "name": c.name or None, **_spot(c.spot)}


def _way(w: Way) -> dict[str, Any]:
    return {
        "goal": w.goal,
        "found": w.found,
        "missing": w.missing or None,
        "ends": _stop(w.ends),
        "wires": w.wires,
        "page_turns": w.page_turns,
        "probability": round(w.probability, 4),
        "notes": list(w.notes),
        "keys": [list(k) for k in w.keys],
        "hops": [_leg(leg) for leg in w.legs],
        "branches": [_branch(b) for b in w.branches],
    }


def _leg(leg: Leg) -> dict[str, Any]:
    return {
        "kind": leg.kind,
        "id": leg.id,
        "printed": leg.printed,
        "words": leg.words,
        "from": _stop(leg.start),
        "to": _stop(leg.end),
        "page_turns": [_turn(t) for t in leg.turns],
        "grommets": list(leg.grommets),
        "connector": None if leg.fitting is None else _fitting(leg.fitting),
        "probability": round(leg.probability, 4),
        "code_probability": round(leg.code_probability, 4),
        "confirmed": leg.confirmed,
        "drawn": leg.sure,
        "check_on_page": leg.check,
        "doubtful": leg.doubtful,
        "notes": list(leg.notes),
    }


def _fitting(f: Fitting) -> dict[str, Any]:
    return {
        "id": f.connector,
        "label": f.label,
        "cavity": f.cavity,
        "halves": [{"name": name, "chart_code": code} for name, code in f.halves],
        "location": f.location,
        "part_of_vehicle": f.part,
    }


def _branch(b: Branch) -> dict[str, Any]:
    return {
        "at": _stop(b.at),
        "wire": b.wire,
        "printed": b.printed,
        "words": b.words,
        "reaches": list(b.reaches),
        "more": b.more,
    }


def _stop(s: Stop) -> dict[str, Any]:
    return {
        "id": s.id,
        "terminal": s.terminal,
        "kind": s.kind,
        "name": s.name or None,
        "about": s.about or None,
        **_spot(s.spot),
    }


def _turn(t: Turn) -> dict[str, Any]:
    return {"leave": _spot(t.leave), "enter": _spot(t.enter)}


def _spot(s: Spot) -> dict[str, Any]:
    return {
        "sheet": s.sheet or None,
        "page": s.page or None,
        "label": s.label,
        "zone": s.zone,
        "zone_nominal": s.nominal,
        "at": None if s.at is None else [round(v, 2) for v in s.at],
    }
