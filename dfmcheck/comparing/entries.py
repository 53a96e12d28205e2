"""Changes of a part's entry in the configuration, judged like changes of shape."""

from dfmcheck.comparing.raw import Raw
from dfmcheck.model.part import Part
from dfmcheck.model.settings import Callout, CalloutTarget, PartEntry

_UNDECIDED = "undecided"


def entry_changes(before: Part, after: Part) -> list[Raw]:
    """What the entry says otherwise than before; no entry at all says "undecided"."""
    x, y = before.entry, after.entry
    if x is None and y is None:
        return []
    raws = _plain(x, y)
    raws += _callouts(() if x is None else x.callouts, () if y is None else y.callouts)
    return raws


def _plain(x: PartEntry | None, y: PartEntry | None) -> list[Raw]:
    raws: list[Raw] = []
    for kind, old, new in (
        ("make-changed", _make(x), _make(y)),
        ("material-changed", _text(x, "material"), _text(y, "material")),
        ("finish-changed", _finish(x), _finish(y)),
        ("tolerance-changed", _text(x, "general_tolerance"), _text(y, "general_tolerance")),
        ("quantities-changed", _quantities(x), _quantities(y)),
        ("target-cost-changed", _target(x), _target(y)),
        ("letter-changed", _text(x, "letter"), _text(y, "letter")),
        ("name-changed", _text(x, "name"), _text(y, "name")),
    ):
        if _squeezed(old) != _squeezed(new):
            raws.append(Raw(kind=kind, before=old, after=new))
    if x is not None and y is not None and x.number != y.number:
        raws.append(Raw(kind="number-changed", before=x.number, after=y.number))
    return raws


def _squeezed(text: str) -> str:
    return " ".join(text.split()).casefold()


def _make(e: PartEntry | None) -> str:
    return "machined" if e is None else e.make


def _text(e: PartEntry | None, name: str) -> str:
    value = None if e is None else getattr(e, name)
    return _UNDECIDED if value is None else str(value)


def _finish(e: PartEntry | None) -> str:
    return "none" if e is None or not e.finish else ", ".join(e.finish)


def _quantities(e: PartEntry | None) -> str:
    if e is None or not e.quantities:
        return "as for all parts"
    return ", ".join(str(q) for q in sorted(e.quantities))


def _target(e: PartEntry | None) -> str:
    if e is None or e.target_cost is None:
        return "none"
    return f"{e.target_cost.amount:.2f} at {e.target_cost.at}"


def _callouts(before: tuple[Callout, ...], after: tuple[Callout, ...]) -> list[Raw]:
    """Callouts paired by what they are for, then by what they say."""
    left, right = list(before), list(after)
    for c in before:
        if c in right:
            left.remove(c)
            right.remove(c)
    raws: list[Raw] = []
    for same in (_same_target, _alike_target):
        for c in tuple(left):
            partner = next((d for d in right if same(c.find, d.find)), None)
            if partner is not None:
                left.remove(c)
                right.remove(partner)
                raw = Raw(kind="callout-changed")
                raw.before, raw.after = callout_words(c), callout_words(partner)
                raws.append(raw)
    raws += [Raw(kind="callout-removed", before=callout_words(c)) for c in left]
    raws += [Raw(kind="callout-added", after=callout_words(c)) for c in right]
    return raws


def _same_target(a: CalloutTarget, b: CalloutTarget) -> bool:
    return a == b


def _alike_target(a: CalloutTarget, b: CalloutTarget) -> bool:
    sizes = (a.diameter_mm, a.radius_mm) == (b.diameter_mm, b.radius_mm)
    return a.kind == b.kind and (sizes or (a.near_mm is not None and a.near_mm == b.near_mm))


def callout_words(c: Callout) -> str:
    """A callout in words: what for, then what it says."""
    find = c.find
    words = [] if find.count in (None, 1) else [f"{find.count} x"]
    words.append(find.kind)
    if find.diameter_mm is not None:
        words.append(f"dia {find.diameter_mm:g}")
    if find.radius_mm is not None:
        words.append(f"R{find.radius_mm:g}")
    if find.near_mm is not None:
        words.append("near ({:g}, {:g}, {:g})".format(*find.near_mm))
    said = []
    if c.thread is not None:
        said.append(c.thread)
    if c.fit is not None:
        said.append(c.fit)
    if c.tolerance_mm is not None:
        said.append("{:+g}/{:+g}".format(*reversed(c.tolerance_mm)))
    if c.texture_ra_um is not None:
        said.append(f"Ra {c.texture_ra_um:g}")
    if c.knurl is not None:
        said.append(f"knurl {c.knurl}")
    if c.depth_mm is not None:
        said.append(f"{c.depth_mm:g} deep")
    if c.note is not None:
        said.append(c.note)
    return f"{' '.join(words)}: {', '.join(said) or 'no words'}"
