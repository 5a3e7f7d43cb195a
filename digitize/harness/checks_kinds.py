"""Checks: what does not fit in a harness, each with where, why, and what would settle it.

``CHECKS`` documents every check. A finding's severity: ``fault`` the manual or the reading is wrong for sure, ``doubt``
probably, ``note`` worth a look. A check speaks only when the readings it compares are sure: few false findings matter
more than a complete list. Whoever accepts a finding with a reason keeps it (``Finding.accepted``); its id stays the same
as long as the check, the subject and the cavity do.

Checks that compare currents with conductors use handbook values and say so; they never replace the vehicle's own manual.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from digitize.harness.model import Finding, WireCode
from digitize.harness.place import Place

Parse = Callable[[str], WireCode | None]
"""Takes a printed code apart under the manual's conventions (``legend.codes.parse_code``)."""


@dataclass(frozen=True, slots=True)
class Check:
    """``id`` as in ``Finding.check``; ``meaning`` for people; ``severity`` it reports at most."""

    id: str
    meaning: str
    severity: str


_ALL = (
    Check("index-zone", "The index gives a zone for a name, but the part with that name is drawn in another.", "doubt"),
    Check("index-not-drawn", "The index names a part that was found on no page.", "note"),
    Check(
        "chart-colour",
        "A connector chart row gives another colour than the wire drawn at that cavity, or than the drawings print for its id.",
        "doubt",
    ),
    Check(
        "chart-code", "A connector chart row gives another code (not only colour) than the wire drawn there.", "doubt"
    ),
    Check("connector-not-drawn", "The connector chart lists a connector that was found on no diagram.", "note"),
    Check("connector-not-in-chart", "A connector is drawn, but the connector chart does not list it.", "note"),
    Check("chart-rows-of-nobody", "Rows of the connector chart belong to no connector that could be read.", "note"),
    Check("edge-without-partner", "A wire runs to the edge of a page and goes on nowhere.", "doubt"),
    Check("one-code-two-conductors", "Two wires that nothing joins carry one and the same code.", "note"),
    Check("unknown-colour", "A wire code has a colour that the legend does not list.", "doubt"),
    Check("unknown-gauge", "A wire code has a size that the legend does not list.", "doubt"),
    Check("unknown-circuit", "A wire code has a circuit letter or number that the legend does not list.", "doubt"),
    Check("tracer-is-main-colour", "A wire code has one colour as main colour and as tracer.", "doubt"),
    Check("splice-too-small", "A splice joins fewer than three conductors.", "doubt"),
    Check("dangling-end", "A wire just stops.", "doubt"),
    Check("code-on-no-wire", "A wire code is printed on a diagram, and no wire that was read carries it.", "doubt"),
    Check(
        "codes-change-at-crossing",
        "Two wires cross, and beyond the crossing both are printed with other codes.",
        "doubt",
    ),
    Check("connector-one-sided", "A wire runs into one half of a drawn connector, and none leaves the other.", "doubt"),
    Check("wire-back-to-its-dot", "A wire leaves a join and comes back to the same one.", "doubt"),
    Check("line-past-part", "A wire seems to end at the very corner of a part: it may run on past it.", "doubt"),
    Check("part-with-few-wires", "A part of two poles has fewer wires than it needs.", "note"),
    Check(
        "load-without-feed", "No way leads from loads that hang together to a battery, an alternator or a fuse.", "note"
    ),
    Check("load-without-ground", "No way leads from loads that hang together to ground.", "note"),
    Check("fuse-larger-than-wire", "A fuse is larger than its thinnest wire should carry (handbook values).", "note"),
    Check("thicker-downstream", "A wire gets thicker behind a fuse, with no other feed joining it.", "note"),
    Check("diode-blocks-all", "A diode stands in every way from feed to a load, pointing the wrong way.", "doubt"),
)
CHECKS: dict[str, Check] = {c.id: c for c in _ALL}
"""Every check by its id."""


def finding(
    check: str,
    subject: str,
    why: str,
    settle: str,
    places: Iterable[Place],
    *,
    cavity: str | None = None,
    extra: str = "",
) -> Finding:
    """A finding of a documented check. ``extra`` tells apart several findings of one check on one subject."""
    parts = [check, subject, *([cavity] if cavity else []), *([extra] if extra else [])]
    return Finding(
        id="/".join(parts),
        check=check,
        severity=CHECKS[check].severity,
        subject=subject,
        why=why,
        settle=settle,
        places=tuple(places),
        cavity=cavity,
    )
