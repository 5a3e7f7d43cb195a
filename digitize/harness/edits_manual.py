"""Edits on a whole sheet or on the whole manual: the zone grid, the conventions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from digitize.harness.edits_anchor import Anchor
from digitize.harness.grid import ZoneGrid


@dataclass(frozen=True, slots=True, kw_only=True)
class SetGrid:
    """The zone grid of the sheet ``target`` as a person laid it; the zones of everything on the sheet follow from it.

    ``line``: the line that was moved, for people: ``between columns 3 and 4``.
    """

    target: str
    anchor: Anchor
    grid: ZoneGrid
    line: str
    do: Literal["set_grid"] = "set_grid"


@dataclass(frozen=True, slots=True, kw_only=True)
class SetConventions:
    """The manual's conventions as a person corrected them at the desk (TOML); readings are decoded again with them.

    The harness itself does not change by this edit: the sheets are decoded again and bound anew. ``target`` is always
    ``conventions``.
    """

    target: str
    anchor: Anchor
    text: str
    do: Literal["set_conventions"] = "set_conventions"


CONVENTIONS = "conventions"
"""The target of every ``SetConventions``: a manual has only one set of them."""
