"""Parts, facts and settings made by hand, for tests of all layers.

What a writer of rules would need as well lives in `dfmcheck.testing` and is only passed on here.
"""

from dfmcheck.model.change import Change
from dfmcheck.model.facts import TurningFacts
from dfmcheck.model.settings import Callout, CalloutTarget, PartEntry, Permit
from dfmcheck.testing import (
    TODAY,
    make_comparison,
    make_face,
    make_facts,
    make_feature,
    make_part,
    make_process,
    make_settings,
    make_stock,
    run_rule,
)

__all__ = [
    "TODAY",
    "a_callout",
    "a_change",
    "a_permit",
    "a_shaft",
    "an_entry",
    "make_comparison",
    "make_face",
    "make_facts",
    "make_feature",
    "make_part",
    "make_process",
    "make_settings",
    "make_stock",
    "run_rule",
]


def a_change(kind: str, **values: object) -> Change:
    """A change of this kind with a plain text."""
    return Change(**{"kind": kind, "text": f"{kind} happened", **values})  # type: ignore[arg-type]


def an_entry(**values: object) -> PartEntry:
    """The entry of the part that `make_part` makes."""
    found = {"number": "DL-1", "file": "cad/block.step", **values}
    return PartEntry(**found)  # type: ignore[arg-type]


def a_callout(
    kind: str = "hole", *, target: dict[str, object] | None = None, **values: object
) -> Callout:
    """A callout for features of this kind; `target` narrows which."""
    find = CalloutTarget(kind=kind, **(target or {}))  # type: ignore[arg-type]
    return Callout(find=find, **values)  # type: ignore[arg-type]


def a_permit(limit: str, **values: object) -> Permit:
    """A permit for the part of `make_part`, valid on the day on which tests play."""
    found = {
        "part": "DL-1",
        "limit": limit,
        "reason": "the slot carries the cable",
        "owner": "ada",
        "until": "2026-06-30",
        **values,
    }
    return Permit(**found)  # type: ignore[arg-type]


def a_shaft(*outer: tuple[float, float]) -> TurningFacts:
    """Turning facts with this outer profile of (z, radius) in mm, about the x axis."""
    length = outer[-1][0] - outer[0][0]
    return TurningFacts(
        axis=(1.0, 0.0, 0.0),
        axis_point=(0.0, 0.0, 0.0),
        length_mm=length,
        diameter_mm=2 * max(radius for _, radius in outer),
        ratio=1.0,
        turned_ratio=1.0,
        round_area_ratio=1.0,
        outer=outer,
        inner=(),
    )
