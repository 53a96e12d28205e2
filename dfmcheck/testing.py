"""Helpers for those who write rules: parts made by hand, and one rule run on them.

A rule's test needs no STEP file and no kernel::

    part = make_part(make_feature("hole", diameter_mm=3.0, depth_mm=40.0))
    (finding,) = run_rule(deep_hole, part)

Sizes that are not given are ordinary ones that no shipped rule remarks on.
"""

from collections.abc import Mapping
from datetime import date
from typing import Any, get_args

import msgspec

from dfmcheck.checking.engine import check_part
from dfmcheck.errors import PluginError
from dfmcheck.model.base import Vec
from dfmcheck.model.callouts import kind_of
from dfmcheck.model.change import Change, Comparison, Motion
from dfmcheck.model.facts import Face, Frame, PartFacts
from dfmcheck.model.feature import Feature
from dfmcheck.model.finding import Finding
from dfmcheck.model.part import Part
from dfmcheck.model.rule import Rule
from dfmcheck.model.settings import Level, LimitValue, Permit, Policy, Settings, Stage
from dfmcheck.model.stock import ProcessChoice, Stock

TODAY = date(2026, 3, 16)
"""The day on which tests play unless they say otherwise."""

_SIZES: dict[str, dict[str, Any]] = {
    "hole": {"diameter_mm": 6.0, "depth_mm": 10.0, "through": True},
    "counterbore": {"diameter_mm": 11.0, "depth_mm": 6.4},
    "countersink": {"diameter_mm": 12.4, "depth_mm": 3.2, "angle_deg": 90.0},
    "pocket": {"length_mm": 30.0, "width_mm": 20.0, "depth_mm": 8.0, "through": False,
               "open": False, "outline": "rectangular", "walls": 4, "corner_radius_mm": 4.0},
    "slot": {"length_mm": 22.0, "width_mm": 6.0, "depth_mm": 6.0, "through": True,
             "profile": "rectangular"},
    "step": {"length_mm": 40.0, "width_mm": 10.0, "depth_mm": 5.0, "through": True,
             "slanted": False, "walls": 2},
    "boss": {"height_mm": 5.0, "length_mm": 12.0, "width_mm": 12.0},
    "groove": {"side": "outside", "width_mm": 2.0, "depth_mm": 1.0, "diameter_mm": 10.0},
    "fillet": {"side": "inside", "role": "corner", "radius_mm": 4.0, "length_mm": 8.0},
    "chamfer": {"width_mm": 0.5, "length_mm": 40.0, "angle_deg": 45.0},
    "freeform": {"area_mm2": 400.0},
    "thread": {"side": "outside", "form": "helical", "major_diameter_mm": 8.0,
               "minor_diameter_mm": 6.466, "pitch_mm": 1.25, "length_mm": 12.0},
    "knurl": {"diameter_mm": 18.0, "length_mm": 8.0, "pitch_mm": 0.8, "pattern": "straight"},
    "engraving": {"length_mm": 20.0, "width_mm": 5.0, "depth_mm": 0.3, "narrowest_mm": 0.8},
}  # fmt: skip

_CLASSES: dict[str, type] = {str(c.__struct_config__.tag): c for c in get_args(Feature)}

_AXES = Frame(
    x=(1.0, 0.0, 0.0),
    y=(0.0, 1.0, 0.0),
    z=(0.0, 0.0, 1.0),
    low_mm=(0.0, 0.0, 0.0),
    high_mm=(60.0, 40.0, 15.0),
)


def make_feature(kind: str, **sizes: object) -> Feature:
    """A feature of this kind, with ordinary sizes for those not given.

    Its id and faces are given by `make_part` unless they are given here. A hole's `reach_mm`
    is its depth.

    Raises:
        KeyError: there is no such kind.
        TypeError: the kind has no such size.
    """
    values: dict[str, object] = {
        "id": "",
        "faces": (),
        "place": (30.0, 20.0, 15.0),
        "direction": (0.0, 0.0, 1.0),
        **_SIZES[kind],
        **sizes,
    }
    if kind == "hole":
        values.setdefault("reach_mm", values["depth_mm"])
    feature: Feature = _CLASSES[kind](**values)
    return feature


def make_face(index: int = 0, **values: object) -> Face:
    """A plane face of 100 mm² looking up, unless told otherwise."""
    found: dict[str, Any] = {
        "index": index,
        "surface": "plane",
        "bend": "flat",
        "area_mm2": 100.0,
        "centroid": (5.0, 5.0, float(index)),
        "normal": (0.0, 0.0, 1.0),
        "low_mm": (0.0, 0.0, 0.0),
        "high_mm": (10.0, 10.0, 0.0),
        "loops": (),
        "fingerprint": f"face-{index}",
        **values,
    }
    return Face(**found)


def make_facts(faces: tuple[Face, ...] = (), **values: object) -> PartFacts:
    """The facts of a block of 60 × 40 × 15 mm with the faces given."""
    found: dict[str, Any] = {
        "name": "Block",
        "count": 1,
        "solids": 1,
        "closed": True,
        "volume_mm3": 36_000.0,
        "area_mm2": 7_800.0,
        "centroid": (30.0, 20.0, 7.5),
        "principal_mm5": (5.475e6, 1.1475e7, 1.56e7),
        "box_mm": (60.0, 40.0, 15.0),
        "box_low_mm": (0.0, 0.0, 0.0),
        "frame": _AXES,
        "faces": faces,
        "edges": (),
        "fingerprint": "block",
        **values,
    }
    return PartFacts(**found)


def make_stock(**values: object) -> Stock:
    """A block sawn from plate for the part of `make_facts`."""
    found: dict[str, Any] = {
        "form": "plate",
        "label": "plate 20",
        "section_mm": (46.0, 20.0),
        "length_mm": 66.0,
        "axis": (1.0, 0.0, 0.0),
        "volume_mm3": 60_720.0,
        "removed_mm3": 24_720.0,
        "removed_ratio": 24_720.0 / 60_720.0,
        "allowance_mm": 1.5,
        "grip_mm": 4.0,
        "skin_kept": False,
        "series": "plate",
        "source": "made up for a test",
        **values,
    }
    return Stock(**found)


def make_process(process: str = "milled", setups: int = 2) -> ProcessChoice:
    """A choice of process with this many setups (at most six); turned parts turn about x."""
    directions: tuple[Vec, ...] = (
        (0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (1.0, 0.0, 0.0),
        (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, -1.0, 0.0),
    )  # fmt: skip
    values: dict[str, Any] = {
        "process": process,
        "reason": "made up for a test",
        "setup_directions": directions[:setups],
    }
    if process.startswith("turned"):
        values |= {"axis": (1.0, 0.0, 0.0), "axis_point": (0.0, 0.0, 0.0)}
    return ProcessChoice(**values)


def make_part(*features: Feature, facts: PartFacts | None = None, **values: object) -> Part:
    """A part with these features; those without an id or faces are given them.

    `facts` None: a block with one face for each feature.
    """
    faces = list(facts.faces) if facts is not None else []
    counts: dict[str, int] = {}
    named = []
    for feature in features:
        kind = kind_of(feature)
        counts[kind] = counts.get(kind, 0) + 1
        own = feature.faces
        if not own:
            own = (len(faces),)
            faces.append(make_face(len(faces), centroid=feature.place))
        name = feature.id or f"{kind}-{counts[kind]}"
        named.append(msgspec.structs.replace(feature, id=name, faces=own))
    base = facts if facts is not None else make_facts()
    found: dict[str, Any] = {
        "file": "cad/block.step",
        "number": "DL-1",
        "unit": "mm",
        "facts": msgspec.structs.replace(base, faces=tuple(faces)),
        "features": tuple(named),
        "process": make_process(),
        "stock": make_stock(),
        **values,
    }
    return Part(**found)


def make_settings(
    limits: Mapping[str, float] | None = None,
    levels: Mapping[str, Level] | None = None,
    *,
    permits: tuple[Permit, ...] = (),
    **policy: object,
) -> Settings:
    """Settings with these limits and levels, as if from a file `dfmcheck.toml`."""
    found: dict[str, Any] = {
        "limits": tuple(LimitValue(name=n, value=float(v)) for n, v in (limits or {}).items()),
        "rules": tuple((levels or {}).items()),
        "permits": permits,
        **policy,
    }
    return Settings(policy=Policy(**found), source="dfmcheck.toml")


def make_comparison(before: Part, after: Part, *changes: Change, **values: object) -> Comparison:
    """A comparison that matches features of equal id and faces of equal index.

    The shape counts as the same where no change is given, features and faces being equal.
    """
    ids = {feature.id for feature in before.features}
    found: dict[str, Any] = {
        "same_shape": not changes
        and (before.features, before.facts.faces) == (after.features, after.facts.faces),
        "motion": Motion(
            rows=((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), shift_mm=(0.0, 0.0, 0.0)
        ),
        "changes": changes,
        "features": tuple((f.id, f.id) for f in after.features if f.id in ids),
        "faces": tuple((i, i) for i in range(min(len(before.facts.faces), len(after.facts.faces)))),
        **values,
    }
    return Comparison(**found)


def run_rule(
    rule: Rule,
    part: Part,
    former: Part | None = None,
    changes: tuple[Change, ...] = (),
    *,
    settings: Settings | None = None,
    stage: Stage | None = None,
    today: date = TODAY,
) -> tuple[Finding, ...]:
    """The findings of one rule, judged by the engine as in a real run.

    Raises:
        PluginError: the rule raised or gave something that is no remark.
    """
    comparison = None if former is None else make_comparison(former, part, *changes)
    findings, failed = check_part(
        part, former, comparison, settings or make_settings(), (rule,), today, stage
    )
    for failure in failed:
        if failure.rule == rule.name:
            raise PluginError(failure.reason)
    return tuple(f for f in findings if f.rule == rule.name)
