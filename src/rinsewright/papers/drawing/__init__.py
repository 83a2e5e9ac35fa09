"""The drawing of the water's way: outlines of the parts (symbols), and two layouts of one path (wide, tall)."""

from __future__ import annotations

from collections.abc import Mapping

from rinsewright.papers.content import WaterPath
from rinsewright.papers.drawing.lettering import describe
from rinsewright.papers.drawing.tall import draw_tall
from rinsewright.papers.drawing.wide import draw_wide

WIDEST = 1040.0  # beyond this the wide drawing gets too small to read on paper


def path_drawings(path: WaterPath, site_name: str, links: Mapping[str, str] | None = None) -> tuple[str | None, str]:
    """The path as two inline SVGs, (wide, tall). Wide is None where the plant is too long for a sheet of paper.

    ``links``: by the key of a part, the address that touching it leads to.
    """
    title, desc = f"The water's way at {site_name}", describe(path)
    wide = draw_wide(path)
    tall = draw_tall(path).svg("path-tall", title, desc, links)
    return (wide.svg("path-wide", title, desc, links) if wide.width <= WIDEST else None), tall


__all__ = ["draw_tall", "draw_wide", "path_drawings"]
