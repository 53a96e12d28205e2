"""What a lamp's cable asks of the parts that it runs through."""

from collections.abc import Iterator

from dfmcheck.api import Hole, Limit, Remark, View, rule


@rule(
    name="cable-hole",
    title="hole too narrow for the cable",
    level="warning",
    looks_at="part",
    limits=(
        Limit(
            name="cable_hole",
            default=4.0,
            unit="mm",
            sense="least",
            source="the studio's own cable, measured",
            meaning="diameter of a through hole that may have to pass the cable",
        ),
    ),
)
def cable_hole(view: View) -> Iterator[Remark]:
    """The lamp's cable is 3.6 mm thick and does not pass a hole below 4 mm.

    A hole that turns out too narrow is opened by hand at the studio's bench, one by one.
    """
    for hole in view.part.features:
        if isinstance(hole, Hole) and hole.through:
            yield Remark(
                message=f"through hole dia {hole.diameter_mm:g} may be too narrow for the cable",
                cost="opened by hand, one by one",
                advice="make it 4 mm or more if the cable runs through it",
                limit="cable_hole",
                measured=hole.diameter_mm,
                feature=hole.id,
            )
