"""``scripts/bench ask``: tracing and fault reasoning on true harnesses, and their speed.

For the demo manual and every folder with a ``truth.json`` (ours or the neutral layout): ways of every load against the
shortest that networkx finds; every single fault planted and looked for by a simulated technician. Then checks against the
best of all orders on small circuits, and the seconds of a trace and of a ranking. Ends with the bars that were missed.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

from digitize.trace.circuit import Circuit
from digitize.trace.faults import Works, hypotheses, rank
from digitize.trace.follow import Circuits
from digitize.trace.network import Network
from digitize.trace.next_check import next_check
from fixtures.demo import demo_manual
from fixtures.heldout import heldout
from fixtures.heldout_back import read_any
from fixtures.perfect import truth_to_harness
from fixtures.truth import Truth
from scripts.small_circuits import ladder, small_circuits
from scripts.technician import against_every_order, searches
from scripts.true_ways import ways_of

PROJECT = Path(__file__).resolve().parent.parent
MOST_OVER_OPTIMUM, MOST_TRACE_MS, MOST_RANK_S = 1.15, 20.0, 1.0
"""The project's own bars."""

Row = dict[str, Any]


def main(arguments: list[str] | None = None) -> int:
    """Measure; 0 when all bars hold, 1 when one is missed."""
    parser = argparse.ArgumentParser(prog="scripts/bench ask", description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("folders", nargs="*", type=Path, help="folders with a truth.json, besides the demo manual")
    parser.add_argument("--every", type=int, default=1, metavar="N", help="plant only every Nth fault")
    parser.add_argument("--json", type=Path, default=PROJECT / "dist" / "ask.json", help="where the figures go")
    given = parser.parse_args(arguments)
    rows: list[Row] = [section("demo", demo_manual()[0].truth, given.every)]
    print(_line(rows[-1]))
    for folder in given.folders:
        try:
            truth = read_any(folder / "truth.json")
        except (OSError, ValueError) as fault:
            print(f"bench: {folder / 'truth.json'} is no truth: {fault}. Name a folder that has one.", file=sys.stderr)
            return 3
        rows.append(section(folder.name, truth, given.every))
        print(_line(rows[-1]))
    for row in (*orders(), speed()):
        rows.append(row)
        print(_line(row))
    given.json.parent.mkdir(parents=True, exist_ok=True)
    given.json.write_text(json.dumps(rows, indent=1), encoding="utf-8")
    missed = bars(rows)
    print("\n".join(missed) if missed else "all bars hold")
    print(f"written: {given.json}", file=sys.stderr)
    return 1 if missed else 0


def section(name: str, truth: Truth, every: int) -> Row:
    """Ways and planted faults of one true harness."""
    harness = truth_to_harness(truth)
    ways = ways_of(harness, heldout(truth))
    circuit = Circuit(Network(harness))
    began = time.process_time()
    done = list(searches(circuit, hypotheses(circuit, circuit.solve())[::every]))
    return {
        "section": name,
        **asdict(ways),
        "planted": len(done),
        "found": sum(s.found for s in done),
        "missed": [s.planted.id for s in done if not s.found],
        "checks": round(sum(s.checks for s in done) / max(1, len(done)), 2),
        "seconds": round(time.process_time() - began, 1),
    }


def orders() -> Iterator[Row]:
    """Small circuits: our checks against the best of all orders."""
    for name, harness in small_circuits().items():
        got = against_every_order(Circuit(Network(harness)))
        yield {
            "small circuit": name, "faults": got.faults, "checks": got.ours, "optimum": got.optimum,
            "ratio": round(got.ours / got.optimum, 3),
        }  # fmt: skip


def speed() -> Row:
    """Milliseconds of a trace among 10,000 wires; seconds of a ranking with its next check among 200."""
    circuits = Circuits(ladder(10_000))
    circuits.trace("l0")  # builds the tables
    traces = [_seconds(lambda i=i: circuits.trace(f"l{i}")) for i in (5, 40, 77, 120, 160)]
    circuit = Circuit(Network(ladder(201)))
    wires = sum(e.kind == "wire" for e in circuit.elements)
    said = [Works("l20", False), Works("l21", True)]
    return {
        "trace ms, median of 5, 10,000 wires": round(1000 * sorted(traces)[2], 1),
        "rank and next check s": round(_seconds(lambda: next_check(rank(circuit, said))), 2),
        "wires ranked": wires,
    }


def _seconds(what: Any) -> float:
    began = time.process_time()
    what()
    return time.process_time() - began


def bars(rows: list[Row]) -> list[str]:
    """The bars that are missed, in words."""
    out = []
    for r in rows:
        if "loads" in r and min(r["fuse"], r["ground"], r["feed"]) < r["loads"]:
            out.append(f"missed: {r['section']}: loads not followed: {'; '.join(r['wrong'])}")
        if "planted" in r and r["found"] < r["planted"]:
            out.append(f"missed: {r['section']}: planted faults not found: {', '.join(r['missed'])}")
        if r.get("ratio", 0) > MOST_OVER_OPTIMUM:
            out.append(f"missed: {r['small circuit']}: {r['ratio']} times the fewest checks")
        if (
            r.get("trace ms, median of 5, 10,000 wires", 0) > MOST_TRACE_MS
            or r.get("rank and next check s", 0) > MOST_RANK_S
        ):
            out.append("missed: speed")
    return out


def _line(row: Row) -> str:
    if "loads" in row:
        return (
            f"{row['section']}: {row['loads']} loads: fuse {row['fuse']} ({row['same_fuse']} over the same parts as the truth), "
            f"ground {row['ground']} ({row['same_ground']}), feed {row['feed']}; {row['found']} of {row['planted']} planted "
            f"faults found, {row['checks']} checks on average, {row['seconds']} s"
        )
    return ", ".join(f"{k}: {v}" for k, v in row.items())


if __name__ == "__main__":
    sys.exit(main())
