"""Line drawings to scale, made from what the graph states of a pattern.

No pattern is drawn by name: the family picks the kind of drawing, the features and sizes decide
everything in it.  Two look-alikes therefore differ in their drawings exactly where their records
differ, and what a record does not hold is drawn dashed and said.
"""

from __future__ import annotations

from etui.drawing.compose import (
    Figures,
    describe,
    draw,
    figures,
    icon,
    is_recorded,
    notes,
    width_mm,
)

__all__ = ["Figures", "describe", "draw", "figures", "icon", "is_recorded", "notes", "width_mm"]
