"""The parts of an invented desk lamp, with the dimensions that change from revision to revision.

Each part is its dimensions in mm; `shape()` draws it with the kernel, in the part's own axes.
"""

import math
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Base:
    """The weighted base, turned: a disc with a rim, a bore for the arm and one for the cable."""

    diameter: float = 90.0
    height: float = 22.0
    bore: float = 14.0
    recess: float = 60.0
    recess_depth: float = 3.0

    def shape(self) -> Any:
        """A disc with a chamfered top edge, a through bore and a shallow recess below."""
        from dfmcheck.demo import solids

        r, h, b = self.diameter / 2.0, self.height, self.bore / 2.0
        d, c = self.recess / 2.0, 1.0
        profile = [(b, self.recess_depth), (d, self.recess_depth), (d, 0.0), (r, 0.0),
                   (r, h - c), (r - c, h), (b, h)]  # fmt: skip
        return solids.revolved(profile)

    @property
    def volume_mm3(self) -> float:
        """By the formulas of cylinder and frustum."""
        r, h, b = self.diameter / 2.0, self.height, self.bore / 2.0
        d, c = self.recess / 2.0, 1.0
        whole = math.pi * r * r * (h - c) + math.pi * c / 3.0 * (r * r + r * (r - c) + (r - c) ** 2)
        recess = math.pi * d * d * self.recess_depth
        return whole - recess - math.pi * b * b * (h - self.recess_depth)


@dataclass(frozen=True)
class Pin:
    """The pivot pin, turned: head and shank; `cross` is the hole for a split pin (0: none)."""

    head: float = 12.0
    head_height: float = 4.0
    shank: float = 8.0
    length: float = 40.0
    chamfer: float = 0.5
    cross: float = 0.0

    def shape(self) -> Any:
        """Head at z = 0, shank upwards with a chamfered end."""
        from dfmcheck.demo import solids

        r, s, c = self.head / 2.0, self.shank / 2.0, self.chamfer
        top, shoulder = self.length, self.head_height
        pin = solids.revolved(
            [
                (0.0, 0.0),
                (r, 0.0),
                (r, shoulder),
                (s, shoulder),
                (s, top - c),
                (s - c, top),
                (0.0, top),
            ]
        )
        if not self.cross:
            return pin
        start = (0.0, -self.head, top - 5.0)
        return solids.cut(
            pin, solids.cylinder(start, (0.0, 1.0, 0.0), self.cross / 2.0, 2 * self.head)
        )

    @property
    def volume_mm3(self) -> float:
        """Of the plain pin, by the formulas of cylinder and frustum."""
        r, s, c = self.head / 2.0, self.shank / 2.0, self.chamfer
        shank = math.pi * s * s * (self.length - self.head_height - c)
        end = math.pi * c / 3.0 * (s * s + s * (s - c) + (s - c) ** 2)
        return math.pi * r * r * self.head_height + shank + end


@dataclass(frozen=True)
class LowerKnuckle:
    """The lower knuckle, milled: a nosed block with a pivot hole and a pocket for the plug.

    The cable comes in through a hole in the pocket's floor; `slot` is the width of a second way
    out, a slot through the side (0: none).
    """

    length: float = 44.0
    half: float = 14.0
    height: float = 20.0
    pivot: float = 8.0
    pocket_depth: float = 10.0
    corner: float = 4.0
    slot: float = 0.0

    def shape(self) -> Any:
        """Nose at +x with the pivot along z; pocket and counterbored holes open to +z."""
        from dfmcheck.demo import solids

        up, h = (0.0, 0.0, 1.0), self.height
        body = solids.rounded_uprights(
            solids.nosed(self.length, self.half, (0.0, h)), 3.0, x_below=1.0
        )
        floor = h - self.pocket_depth
        tools = [
            solids.cylinder((self.length, 0.0, -1.0), up, self.pivot / 2.0, h + 2.0),
            solids.rounded((12.0, 32.0), (-8.0, 8.0), (floor, h + 1.0), self.corner),
            solids.cylinder((22.0, 0.0, -1.0), up, 3.0, h),
        ]
        for y in (-8.0, 8.0):
            tools.append(solids.cylinder((6.0, y, -1.0), up, 2.25, h + 2.0))
            tools.append(solids.cylinder((6.0, y, h - 4.6), up, 4.0, 6.0))
        if self.slot:
            middle, half = 11.5, self.slot / 2.0
            outline = (14.0, 26.0), (middle - half, middle + half), (-self.half - 1.0, -7.0)
            tools.append(solids.laid_down(solids.rounded(*outline, half)))
        return solids.cut(body, *tools)


@dataclass(frozen=True)
class UpperKnuckle:
    """The upper knuckle, milled: shorter, with a countersunk pivot and two tapped holes."""

    length: float = 36.0
    half: float = 12.0
    height: float = 16.0
    pivot: float = 8.0
    corner: float = 4.0

    def shape(self) -> Any:
        """Nose at +x with the pivot along z; pocket and tapped holes open to +z."""
        from dfmcheck.demo import solids

        up, h, r = (0.0, 0.0, 1.0), self.height, self.pivot / 2.0
        body = solids.nosed(self.length, self.half, (0.0, h))
        sink = solids.revolved([(0.0, h - 1.0), (r, h - 1.0), (r + 2.0, h + 1.0), (0.0, h + 1.0)])
        tools = [
            solids.cylinder((self.length, 0.0, -1.0), up, r, h + 2.0),
            solids.moved(sink, (self.length, 0.0, 0.0)),
            solids.rounded((10.0, 26.0), (-7.0, 7.0), (h - 8.0, h + 1.0), self.corner),
        ]
        tools += [solids.drilled((5.0, y, h), (0.0, 0.0, -1.0), 3.3, 10.0) for y in (-7.0, 7.0)]
        return solids.cut(body, *tools)


@dataclass(frozen=True)
class Knob:
    """The thumb knob, turned, with a tapped hole; `modelled` draws its knurl and thread.

    Otherwise both are called out, and the model shows plain surfaces.
    """

    head: float = 20.0
    modelled: bool = False

    def shape(self) -> Any:
        """Hub at z = 0, head above it; the hole opens to -z."""
        from dfmcheck.demo import solids

        r, c = self.head / 2.0, 0.5
        body = solids.revolved(
            [(0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (r - c, 4.0), (r, 4.0 + c), (r, 12.0 - c),
             (r - c, 12.0), (0.0, 12.0)]
        )  # fmt: skip
        if self.modelled:
            teeth = solids.prism(_toothed(r, 0.4, 60), 4.0, 12.0)
            hub = solids.cylinder((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 6.0, 4.0)
            body = solids.fuse(solids.common(body, teeth), hub)
        hole = solids.drilled((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 4.2, 9.0)
        body = solids.cut(body, hole)
        if self.modelled:
            body = solids.cut(body, *(_thread_ring(0.8 * (i + 0.5)) for i in range(9)))
        return body


def _toothed(radius: float, depth: float, teeth: int) -> list[tuple[float, float]]:
    """The outline of a straight knurl: teeth up to the radius, `depth` deep."""
    outline = []
    for i in range(2 * teeth):
        r = radius if i % 2 == 0 else radius - depth
        angle = math.pi * i / teeth
        outline.append((r * math.cos(angle), r * math.sin(angle)))
    return outline


def _thread_ring(z: float) -> Any:
    """One ring of an M5 thread drawn as rings of 0.8 pitch: a V from dia 4.2 to dia 5."""
    from dfmcheck.demo import solids

    return solids.revolved([(2.05, z - 0.35), (2.5, z - 0.05), (2.5, z + 0.05), (2.05, z + 0.35)])


@dataclass(frozen=True)
class Collar:
    """The shade collar, turned with milling: a flanged ring with three set screws and a flat."""

    flange: float = 50.0
    outer: float = 40.0
    bore: float = 28.0
    length: float = 18.0

    def shape(self) -> Any:
        """Flange at z = 0; set screws square to the axis."""
        from dfmcheck.demo import solids

        f, r, b = self.flange / 2.0, self.outer / 2.0, self.bore / 2.0
        body = solids.revolved(
            [(b, 0.0), (f, 0.0), (f, 4.0), (r, 4.0), (r, self.length - 0.5),
             (r - 0.5, self.length), (b, self.length)]
        )  # fmt: skip
        tools = []
        for degrees in (90.0, 210.0, 330.0):
            angle = math.radians(degrees)
            outwards = (math.cos(angle), math.sin(angle), 0.0)
            start = (b * 0.5 * outwards[0], b * 0.5 * outwards[1], 11.0)
            tools.append(solids.cylinder(start, outwards, 1.65, r))
        tools.append(solids.block((f - 2.0, f + 1.0), (-f, f), (-1.0, 4.0)))
        return solids.cut(body, *tools)


@dataclass(frozen=True)
class Clamp:
    """The cable clamp, milled: a small block with a groove for the cable and one screw."""

    length: float = 24.0
    width: float = 12.0
    height: float = 8.0
    cable: float = 5.0

    def shape(self) -> Any:
        """The groove runs along y in the underside; the screw hole stands along z."""
        from dfmcheck.demo import solids

        body = solids.rounded((0.0, self.length), (0.0, self.width), (0.0, self.height), 2.0)
        groove = solids.cylinder(
            (17.0, -1.0, 0.0), (0.0, 1.0, 0.0), self.cable / 2.0, self.width + 2.0
        )
        screw = solids.cylinder(
            (7.0, self.width / 2.0, -1.0), (0.0, 0.0, 1.0), 2.25, self.height + 2.0
        )
        return solids.cut(body, groove, screw)


Drawing = Base | Pin | LowerKnuckle | UpperKnuckle | Knob | Collar | Clamp
