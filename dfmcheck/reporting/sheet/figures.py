"""The table of one part: before, now, change, limit.

Only the figures that changed or are limited stand in it.
"""

from collections.abc import Callable
from dataclasses import dataclass

from dfmcheck.model.change import Change
from dfmcheck.model.feature import Feature, Fillet, Hole, Pocket, Slot, Step
from dfmcheck.model.finding import Finding
from dfmcheck.model.part import Part
from dfmcheck.reporting.sanitise import clean
from dfmcheck.reporting.sheet.features import ORDER, noun
from dfmcheck.reporting.sheet.features import counts as counts_of
from dfmcheck.reporting.sheet.words import (
    PROCESS,
    direction,
    directions,
    number,
    percent,
    signed,
    sizes,
    stock,
)

_SAME_FIGURE = {
    "hole_depth_ratio": "deepest hole, depth/dia",
    "inside_corner_radius": "smallest inside corner",
}
"""Figures that a limit of this name tells better."""

_VOLUME = "volume, cm3"

ALIKE_MM = 5e-3
"""Lengths nearer than this are the same figure to a reader."""


@dataclass(frozen=True)
class Row:
    """One line of the table: all text."""

    label: str
    before: str
    now: str
    change: str = ""
    limit: str = ""
    mark: str = ""

    @property
    def changed(self) -> bool:
        """True where a reader sees a difference."""
        return bool(self.change) or (self.before != self.now and bool(self.before))


_TOLD_AS = {
    "stock-grew": ("stock",), "stock-shrank": ("stock",), "stock-form": ("stock",),
    "process-changed": ("process",),
}  # fmt: skip
"""Rows whose figures a change of this kind tells together with its cause."""


def table_rows(
    now: Part,
    before: Part | None,
    findings: tuple[Finding, ...],
    changes: tuple[Change, ...] = (),
    *,
    counts: bool = True,
) -> list[Row]:
    """The rows of a part: limited figures that hold first, then the changed ones.

    Args:
        now: the part.
        before: its former revision.
        findings: of the part.
        changes: those that the list below the table tells, and those that give the mass.
        counts: tell how many features of each kind there are.
    """
    limited = _limited(findings, before)
    told = {_SAME_FIGURE.get(name) for name in limited}
    told |= {label for c in changes for label in _TOLD_AS.get(c.kind, ())}
    setups = "setups" not in limited and not any(c.kind.startswith("setups-") for c in changes)
    rows = _figures(now, before, counts=counts, setups=setups)
    rows = _with_mass(rows, changes)
    figures = [r for r in rows if r.changed and r.label not in told]
    holding = [r for r in limited.values() if r.mark == "HOLD"]
    others = [r for r in limited.values() if r.mark != "HOLD"]
    return [*holding, *figures, *others]


def _limited(findings: tuple[Finding, ...], former: Part | None) -> dict[str, Row]:
    """A row for each limit that is passed and would hold, with the value furthest beyond it.

    Findings beyond a default that only warns are told below the table and not in it.
    """
    worst: dict[str, Finding] = {}
    for finding in findings:
        if finding.limit is None or finding.limit_value is None or finding.measured is None:
            continue
        if finding.level == "error" or finding.permit is not None:
            known = worst.get(finding.limit)
            if known is None or _beyond(finding) > _beyond(known):
                worst[finding.limit] = finding
    return {name: _limited_row(name, finding, former) for name, finding in worst.items()}


def _beyond(finding: Finding) -> tuple[bool, float]:
    return finding.holds, abs((finding.measured or 0.0) - (finding.limit_value or 0.0))


def _limited_row(name: str, finding: Finding, former: Part | None) -> Row:
    label = clean(name, 60).replace("_", " ").replace("-", " ")
    unit = clean(finding.unit, 30)
    measured, limit = finding.measured or 0.0, finding.limit_value or 0.0
    before = finding.before_value
    if before is None and former is not None and name in _FORMERLY:
        before = _FORMERLY[name](former)
    return Row(
        label=label if unit in label else f"{label}, {unit}",
        before=number(before, 2) if before is not None else "",
        now=number(measured, 2),
        change=signed(measured - before, 2) if before is not None else "",
        limit=f"{'max' if measured > limit else 'min'} {number(limit)}",
        mark="HOLD" if finding.holds else "permit" if finding.permit is not None else "",
    )


def _figures(now: Part, before: Part | None, *, counts: bool, setups: bool) -> list[Row]:
    if before is None:
        return []
    return [
        Row("process", PROCESS[before.process.process], PROCESS[now.process.process]),
        *_setups(now, before, counted=setups),
        *_stock(now, before),
        *_shape(now, before),
        *_tightest(now, before),
        *(_counted(now, before) if counts else ()),
    ]


def _setups(now: Part, before: Part, *, counted: bool) -> list[Row]:
    """Where the cutter comes from; how many setups that is, unless a limit's row says it."""
    old, new = before.process.setup_directions, now.process.setup_directions
    if sorted(map(direction, old)) == sorted(map(direction, new)):
        return []  # in another order alone
    texts = directions(old), directions(new)
    more = len(new) - len(old)
    change = f"{signed(more)} {'setup' if abs(more) == 1 else 'setups'}" if more else ""
    return [Row("cut from", *texts, change if counted else "")]


def _stock(now: Part, before: Part) -> list[Row]:
    old, new = before.stock, now.stock
    if old is None or new is None:
        return [Row("stock", stock(old), stock(new))]
    rows = [
        Row("stock", stock(old), stock(new)),
        _amount("metal cut away, cm3", old.removed_mm3 / 1e3, new.removed_mm3 / 1e3),
    ]
    if rows[-1].changed:
        shares = percent(old.removed_ratio), percent(new.removed_ratio)
        rows.append(Row("  share of the stock", *shares))
    return rows


def _shape(now: Part, before: Part) -> list[Row]:
    old, new = before.facts, now.facts
    steps = [
        f"{axis} {signed(b - a, 2)}"
        for axis, a, b in zip("XYZ", old.box_mm, new.box_mm, strict=True)
        if abs(b - a) >= ALIKE_MM
    ]
    return [
        Row("box X x Y x Z, mm", sizes(old.box_mm), sizes(new.box_mm), "\n".join(steps)),
        _amount(_VOLUME, old.volume_mm3 / 1e3, new.volume_mm3 / 1e3),
    ]


def _with_mass(rows: list[Row], changes: tuple[Change, ...]) -> list[Row]:
    """The mass where it is known and changed; in place of the volume where it says the same."""
    for change in changes:
        before, after = change.before, change.after
        if not change.kind.startswith("mass-"):
            continue
        if isinstance(before, str | None) or isinstance(after, str | None):
            continue
        mass = _amount("mass, g", before, after)
        at = next((i for i, r in enumerate(rows) if r.label == _VOLUME), len(rows))
        same = at < len(rows) and rows[at].change.split()[1:] == mass.change.split()[1:]
        return [*rows[:at], mass, *rows[at + 1 if same else at :]]
    return rows


def _amount(label: str, old: float, new: float) -> Row:
    places = 1 if max(old, new) >= 100 else 2 if max(old, new) >= 1 else 4
    texts = number(old, places), number(new, places)
    if texts[0] == texts[1]:
        return Row(label, *texts)
    share = percent(abs(new - old) / old) if old > 0.0 else ""
    share = f" {share}" if share and not share.startswith("0 ") else ""
    return Row(label, *texts, signed(new - old, places) + share)


def _tightest(now: Part, before: Part) -> list[Row]:
    rows = []
    for label, find in (
        ("smallest inside corner", smallest_corner_mm),
        ("deepest hole, depth/dia", deepest_ratio),
    ):
        old, new = find(before.features), find(now.features)
        if old is None and new is None:
            continue
        apart = old is None or new is None or abs(new - old) >= 5e-3
        change = signed(new - old, 2) if apart and old is not None and new is not None else ""
        texts = [("none" if v is None else _told(v, label)) for v in (old, new)]
        rows.append(Row(label, texts[0], texts[1] if apart else texts[0], change))
    return rows


def _told(value: float, label: str) -> str:
    if "corner" in label:
        return f"R{number(value, 2)}" if value > 0.0 else "sharp"
    return number(value, 2)


def smallest_corner_mm(features: tuple[Feature, ...]) -> float | None:
    """The least inside radius along a cutter's axis (0 = sharp), None where there is no corner."""
    radii = [
        f.corner_radius_mm
        for f in features
        if isinstance(f, Pocket | Slot | Step) and f.corner_radius_mm is not None
    ]
    radii += [f.radius_mm for f in features if isinstance(f, Fillet) and f.role == "corner"]
    return min(radii, default=None)


def deepest_ratio(features: tuple[Feature, ...]) -> float | None:
    """The greatest depth to diameter of the holes, from the outermost mouth."""
    ratios = [f.reach_mm / f.diameter_mm for f in features if isinstance(f, Hole) and f.diameter_mm]
    return max(ratios, default=None)


def _counted(now: Part, before: Part) -> list[Row]:
    old, new = counts_of(before.features), counts_of(now.features)
    rows = []
    for kind in ORDER:
        a, b = old.get(kind, 0), new.get(kind, 0)
        if a != b:
            rows.append(Row(noun(kind, 2), str(a), str(b), signed(b - a)))
    return rows


_FORMERLY: dict[str, Callable[[Part], float | None]] = {
    "hole_depth_ratio": lambda part: deepest_ratio(part.features),
    "inside_corner_radius": lambda part: smallest_corner_mm(part.features),
    "setups": lambda part: float(len(part.process.setup_directions)),
}
"""How the former revision stood to a limit whose rule looks at one revision only."""
