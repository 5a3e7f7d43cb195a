"""The zone grid of a sheet: map-style references read from the labels printed on the frame.

Its form stands in ``harness.grid``, because a person may move its lines at the desk.
"""

from __future__ import annotations

from digitize.harness.grid import Band, ZoneGrid, reference

__all__ = ["Band", "ZoneGrid", "reference"]
