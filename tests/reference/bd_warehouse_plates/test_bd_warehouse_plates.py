"""Holes that bd_warehouse drills by its own tables into a plate, found with their sizes."""

from importlib.metadata import version

import pytest

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.feature import Counterbore, Countersink, Feature, Hole

build123d = pytest.importorskip("build123d", reason="build123d is one of the test extras")
fastener = pytest.importorskip("bd_warehouse.fastener", reason="one of the test extras")

THICKNESS_MM = 20.0
BLIND_MM = 12.0
SIZES = ("M3-0.5", "M4-0.7", "M5-0.8", "M6-1", "M8-1.25", "M10-1.5")
NEAR_MM = 0.01


def head_of(screw: object, fit: str) -> tuple[float, float]:
    """Greatest diameter and depth of the room for a screw's head, from the package's profile."""
    box = screw.countersink_profile(fit).bounding_box()  # type: ignore[attr-defined]
    return 2.0 * box.max.X, box.size.Z


def plate(size: str) -> tuple[Feature, ...]:
    """A plate with a hole of each kind, at x = -60, -30, 0, 30 and 60."""
    cap = fastener.SocketHeadCapScrew(size=size, length=20, simple=True)
    flat = fastener.CounterSunkScrew(size=size, length=20, simple=True)
    with build123d.BuildPart() as part:
        build123d.Box(160, 50, THICKNESS_MM)
        top = build123d.Plane.XY.offset(THICKNESS_MM / 2)
        with build123d.Locations(top):
            with build123d.Locations((-60, 0)):
                fastener.ClearanceHole(fastener=cap, fit="Normal")
            with build123d.Locations((-30, 0)):
                fastener.ClearanceHole(fastener=flat, fit="Close")
            with build123d.Locations((0, 0)):
                fastener.TapHole(fastener=cap, material="Soft", counter_sunk=False)
            with build123d.Locations((30, 0)):
                fastener.ClearanceHole(cap, fit="Loose", depth=BLIND_MM, counter_sunk=False)
            with build123d.Locations((60, 0)):
                fastener.ClearanceHole(fastener=cap, fit="Close", counter_sunk=False)
    return recognise(part_facts(part.part.wrapped, name=size))


@pytest.mark.parametrize("size", SIZES)
def test_every_hole_with_its_sizes(size: str) -> None:
    assert version("bd_warehouse") == "0.4.0"
    cap = fastener.SocketHeadCapScrew(size=size, length=20, simple=True)
    flat = fastener.CounterSunkScrew(size=size, length=20, simple=True)
    clearance, tapped = cap.clearance_hole_diameters, cap.tap_hole_diameters
    features = plate(size)
    holes = {round(f.place[0]): f for f in features if isinstance(f, Hole)}
    wanted = {
        -60: clearance["Normal"],
        -30: flat.clearance_hole_diameters["Close"],
        0: tapped["Soft"],
        30: clearance["Loose"],
        60: clearance["Close"],
    }
    assert {x: h.diameter_mm for x, h in holes.items()} == pytest.approx(wanted, abs=NEAR_MM)
    assert {x: h.through for x, h in holes.items()} == {x: x != 30 for x in wanted}
    assert holes[30].depth_mm == pytest.approx(BLIND_MM, abs=NEAR_MM)
    assert [h.reach_mm for x, h in holes.items() if x != 30] == pytest.approx([THICKNESS_MM] * 4)
    (bore,) = (f for f in features if isinstance(f, Counterbore))
    (sink,) = (f for f in features if isinstance(f, Countersink))
    assert (bore.of, sink.of) == (holes[-60].id, holes[-30].id)
    assert (bore.diameter_mm, bore.depth_mm) == pytest.approx(head_of(cap, "Normal"), abs=NEAR_MM)
    assert sink.diameter_mm == pytest.approx(head_of(flat, "Close")[0], abs=NEAR_MM)
    assert sink.angle_deg == pytest.approx(90.0, abs=0.01)
    assert sink.depth_mm == pytest.approx((sink.diameter_mm - wanted[-30]) / 2, abs=NEAR_MM)
    assert len(features) == 7
