"""Run every check over a harness. What each check means stands in ``checks_kinds.CHECKS``."""

from __future__ import annotations

from dataclasses import replace

from digitize.harness import checks_absent, checks_crossings, checks_drawing, checks_looks, checks_power, checks_tables
from digitize.harness.checks_kinds import CHECKS, Check, Parse, finding
from digitize.harness.model import Finding, Harness

__all__ = ["CHECKS", "Check", "Parse", "find_all", "finding"]


def find_all(harness: Harness, parse: Parse) -> tuple[Finding, ...]:
    """Findings sorted by id, each id once. Reasons given before are kept by id.

    ``parse`` takes a printed code apart (``legend.codes.parse_code`` under the manual's conventions).
    """
    found = [
        *checks_looks.findings(harness, parse),
        *checks_tables.findings(harness, parse),  # where both speak of one cavity, the wire drawn there counts
        *checks_drawing.findings(harness, parse),
        *checks_absent.findings(harness),
        *checks_crossings.findings(harness, parse),
        *checks_power.findings(harness),
    ]
    # that no current comes or goes says more than that a wire is missing
    told = {f.subject for f in found if f.check.startswith("load-without-")}
    found = [f for f in found if f.check != "part-with-few-wires" or f.subject not in told]
    reasons = {f.id: f.accepted for f in harness.findings if f.accepted is not None}
    by_id = {f.id: replace(f, accepted=reasons.get(f.id)) for f in found}
    return tuple(by_id[i] for i in sorted(by_id))
