"""Turning, moving or mirroring a part changes neither kinds nor sizes of its features."""

from collections import Counter

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_parts import catalogue
from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.facts import part_facts
from dfmcheck.model.feature import Feature

MAKERS = (
    catalogue.holes_with_heads,
    catalogue.slot_under_a_pocket,
    catalogue.slots_of_all_profiles,
    catalogue.blind_slots,
    catalogue.steps_all_kinds,
    catalogue.frame,
    catalogue.boss_in_a_pocket,
)
WHERE = {"id", "of", "place", "direction", "faces"}
SOLIDS: dict[str, object] = {}

number = st.floats(-1.0, 1.0, allow_nan=False)


def sizes(features: tuple[Feature, ...]) -> Counter[str]:
    """Kinds, sizes (rounded to 0.01) and number of faces, without places."""
    rows: Counter[str] = Counter()
    for f in features:
        fields = {k: v for k, v in msgspec.to_builtins(f).items() if k not in WHERE}
        rounded = {k: round(v, 2) + 0.0 if isinstance(v, float) else v for k, v in fields.items()}
        rows[f"{len(f.faces)} {sorted(rounded.items())}"] += 1
    return rows


def solid(maker: object) -> object:
    name = maker.__name__  # type: ignore[attr-defined]
    if name not in SOLIDS:
        SOLIDS[name] = maker().solid.wrapped  # type: ignore[operator]
    return SOLIDS[name]


@pytest.mark.slow
@pytest.mark.parametrize("maker", MAKERS, ids=lambda m: m.__name__)
@settings(max_examples=4, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(
    axis=st.tuples(number, number, number).filter(lambda a: sum(x * x for x in a) > 0.01),
    turn=st.floats(0.1, 3.1),
    shift=st.tuples(*[st.floats(-500.0, 500.0)] * 3),
    mirrored=st.booleans(),
)
def test_motion_changes_nothing(
    maker: object,
    axis: tuple[float, float, float],
    turn: float,
    shift: tuple[float, float, float],
    mirrored: bool,
) -> None:
    motion, part = gp_Trsf(), gp_Trsf()
    motion.SetTranslation(gp_Vec(*shift))
    part.SetRotation(gp_Ax1(gp_Pnt(1, 2, 3), gp_Dir(*axis)), turn)
    motion.Multiply(part)
    if mirrored:
        mirror = gp_Trsf()
        mirror.SetMirror(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(*axis)))
        motion.Multiply(mirror)
    shape = solid(maker)
    moved = BRepBuilderAPI_Transform(shape, motion, True).Shape()
    before = recognise(part_facts(shape, name="before"))
    after = recognise(part_facts(moved, name="after"))
    assert sizes(after) == sizes(before)
