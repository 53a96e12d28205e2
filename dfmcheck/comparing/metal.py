"""How much metal a change gives or takes, from the sizes of the feature concerned."""

import msgspec

from dfmcheck.comparing.raw import Raw
from dfmcheck.comparing.sizes import SIZES, effect_mm3
from dfmcheck.model.callouts import kind_of
from dfmcheck.model.feature import Feature, Fillet

_CORNER = 0.2146
"""Share of a square corner that a round of that radius leaves standing: 1 - pi/4."""


def added_mm3(r: Raw) -> float:
    """Metal the change gives (positive) or takes, in mm³; 0 where its sizes do not tell."""
    if r.members:
        return sum(added_mm3(m) for m in r.members)
    if r.kind in ("box-grew", "diameter-larger"):
        return r.effect_mm3
    if r.kind in ("box-shrank", "diameter-smaller"):
        return -r.effect_mm3
    if r.kind == "face-moved" and isinstance(r.after, float):
        return r.effect_mm3 if r.after > 0.0 else -r.effect_mm3
    a, b = r.first, r.second
    if b is not None and a is None:
        return _sign(b) * effect_mm3(b)
    if a is not None and b is None:
        return -_sign(a) * effect_mm3(a)
    if a is None or b is None or kind_of(a) != kind_of(b):
        return 0.0
    return _of_size(r, a, b)


def _of_size(r: Raw, a: Feature, b: Feature) -> float:
    if not isinstance(r.before, float) or not isinstance(r.after, float):
        through = r.kind.endswith(("-through", "-blind"))
        return _sign(b) * (effect_mm3(b) - effect_mm3(a)) if through else 0.0
    if r.kind.startswith(("corner-", "floor-")) and not isinstance(b, Fillet):
        run = _run_mm(b, corners=r.kind.startswith("corner-"))
        return _CORNER * (r.after**2 - r.before**2) * run
    named = [s.attribute for s in SIZES[kind_of(a)] if r.kind in (s.grown, s.shrunk)]
    if not named:
        return _sign(b) * (effect_mm3(b) - effect_mm3(a)) if isinstance(b, Fillet) else 0.0
    plain = kind_of(a) not in ("hole", "chamfer")  # their sizes are told otherwise than kept
    changed = {n: r.after if plain else getattr(b, n) for n in named}
    if "reach_mm" in changed:
        changed["depth_mm"] = getattr(b, "depth_mm", 0.0)
    return _sign(b) * (effect_mm3(msgspec.structs.replace(a, **changed)) - effect_mm3(a))


def _run_mm(f: Feature, *, corners: bool) -> float:
    """Length of a hollow's four corners, or of the foot of its walls."""
    if corners:
        return 4.0 * float(getattr(f, "depth_mm", 0.0))
    length, width = (float(getattr(f, n, None) or 0.0) for n in ("length_mm", "width_mm"))
    return 2.0 * (length + width)


def _sign(f: Feature) -> float:
    """1 for what stands or stays when the feature is there, -1 for what is taken away."""
    kind = kind_of(f)
    if kind == "boss" or (kind == "fillet" and getattr(f, "side", "") == "inside"):
        return 1.0
    if kind == "engraving" and getattr(f, "raised", False):
        return 1.0
    return 0.0 if kind == "freeform" else -1.0
