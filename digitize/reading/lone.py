"""The box of a character that stands alone: as wide as it would stand in a word."""

from __future__ import annotations

from digitize.harness.place import Box

NARROWEST = 0.35
"""Least width of a lone letter or digit as a share of its height: printers' faces give an I or a 1 about 0.3 to 0.6 of the
height of their capitals to stand in (from memory), pens a single stroke."""


def lone_box(text: str, box: Box, angle: int) -> Box:
    """``box`` (sheet mm) of ``text`` that reads along ``angle`` degrees, widened on both sides where it is one thin character.

    A box around the stroke alone hides it when shown, and is no place to point at. Longer strings and signs keep theirs.
    """
    if len(text) != 1 or not text.isalnum():
        return box
    flat = angle in (0, 180)
    tall, wide = (box.height, box.width) if flat else (box.width, box.height)
    more = max(0.0, NARROWEST * tall - wide) / 2
    if flat:
        return Box(box.x0 - more, box.y0, box.x1 + more, box.y1)
    return Box(box.x0, box.y0 - more, box.x1, box.y1 + more)
