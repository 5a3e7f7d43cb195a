"""Advice as a plain structure for ``json.dumps``; README.md explains it."""

from __future__ import annotations

from typing import Any

from digitize.harness.graph import Key
from digitize.trace.advice import Advice
from digitize.trace.advice_told import HOW, LEFT_ALONE, point_words, suspect_words, told_lines
from digitize.trace.faults import Suspect

FORMAT = "digitize-fault-1"


def advice_as_json(advice: Advice) -> dict[str, Any]:
    """Cautions, what was told, suspects, the next check and figures.

    ``predicts_volts`` of a suspect: what the meter reads at the next check if that is the fault; None when there is no check.
    """
    circuits = advice.circuits

    def spot(key: Key) -> dict[str, Any]:
        s = circuits.stop(key).spot
        return {"sheet": s.sheet, "page": s.page, "zone": s.zone, "at": s.at}

    check = advice.check

    def predicts(s: Suspect) -> float | None:
        if check is None or s.solution is None:
            return None
        volts = advice.ranking.circuit.volts_at(s.solution, check.key)
        return None if volts is None else round(volts, 2)

    return {
        "format": FORMAT,
        "rights": circuits.harness.rights,
        "cautions": [{"id": c.id, "text": c.text} for c in advice.cautions],
        "told": list(told_lines(advice)),
        "notes": [*advice.notes, *([LEFT_ALONE] if advice.hands_off else [])],
        "suspects": [
            {
                "fault": None if s.fault is None else s.fault.id,
                "kind": None if s.fault is None else s.fault.kind,
                "by": None if s.fault is None else s.fault.by,
                "words": suspect_words(circuits, s),
                "probability": round(s.probability, 5),
                "predicts_volts": predicts(s),
                **({} if s.fault is None else spot(s.fault.key)),
            }
            for s in (advice.ranking.suspects if advice.told_something else ())
        ],
        "next_check": None if check is None else {
            "point": list(check.key),
            "words": point_words(circuits, check.key),
            "how": HOW,
            "information_bits": round(check.information, 4),
            "effort": check.effort,
            "readings": [
                {"shows": r.shows, "volts": [round(v, 2) for v in r.volts], "probability": round(r.probability, 4),
                 "suspects": list(r.suspects)}
                for r in check.readings
            ],
            **spot(check.key),
        },
        "figures": [{"subject": f.subject, "says": f.says, "fits": f.fits} for f in advice.figures],
    }  # fmt: skip
