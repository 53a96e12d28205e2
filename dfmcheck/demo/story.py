"""The story of the demo: twelve invented commits in which the lamp's parts drift."""

from dataclasses import dataclass, field, replace

from dfmcheck.demo.parts import (
    Base,
    Clamp,
    Collar,
    Drawing,
    Knob,
    LowerKnuckle,
    Pin,
    UpperKnuckle,
)
from dfmcheck.demo.settings import Settings

README = """\
# Desk lamp

An invented product of an invented studio: this repository was made by `dfmcheck demo`, and every
name, part and figure in it is made up.

Try `dfmcheck gate`, `dfmcheck gate HEAD~3`, `dfmcheck part cad/knuckle-lower.step`.
"""

ATTRIBUTES = "*.step -text\n"

ADA = ("Ada (invented)", "ada@studio.invalid")
BEN = ("Ben (invented)", "ben@studio.invalid")

BASE = "cad/base.step"
LOWER = "cad/knuckle-lower.step"
UPPER = "cad/knuckle-upper.step"
PIN = "cad/pivot-pin.step"
KNOB = "cad/thumb-knob.step"
COLLAR = "cad/shade-collar.step"
CLAMP = "cad/clamp.step"
CABLE_CLAMP = "cad/cable-clamp.step"

NAMES = {
    BASE: "Weighted base",
    LOWER: "Lower knuckle",
    UPPER: "Upper knuckle",
    PIN: "Pivot pin",
    KNOB: "Thumb knob",
    COLLAR: "Shade collar",
    CLAMP: "Cable clamp",
    CABLE_CLAMP: "Cable clamp",
}


@dataclass(frozen=True)
class Export:
    """A drawing as exported on a day by a program."""

    drawing: Drawing
    day: str
    exporter: str = "drawn"


@dataclass(frozen=True)
class Chapter:
    """One commit: who, when, what it says, what it really does to the parts.

    `exports` are the STEP files written, `renames` pairs of (from, to), `settings` the
    configuration as it stands after the commit.
    """

    author: tuple[str, str]
    date: str
    subject: str
    story: str
    settings: Settings
    exports: dict[str, Export] = field(default_factory=dict)
    renames: tuple[tuple[str, str], ...] = ()


def _exported(day: str, **drawings: Drawing) -> dict[str, Export]:
    paths = {"base": BASE, "lower": LOWER, "upper": UPPER, "pin": PIN, "knob": KNOB,
             "collar": COLLAR, "clamp": CLAMP}  # fmt: skip
    return {paths[k]: Export(drawing, day) for k, drawing in drawings.items()}


def chapters() -> tuple[Chapter, ...]:
    """The commits, oldest first."""
    first = Settings()
    later = replace(first, clamp=CLAMP)
    pinned = replace(later, pin_permit=True)
    renamed = replace(pinned, clamp=CABLE_CLAMP)
    called = replace(renamed, knob_callout=True)
    harder = replace(called, upper_material="EN AW-7075-T6")
    last = replace(harder, lower_letter="B")
    return (*_autumn(first, later), *_winter(later, pinned, renamed), *_spring(
        renamed, called, harder, last
    ))  # fmt: skip


def _autumn(first: Settings, later: Settings) -> tuple[Chapter, ...]:
    return (
        Chapter(
            author=ADA,
            date="2025-11-03T10:12:00+01:00",
            subject="Desk lamp: base, knuckles, pin and knob",
            story="five parts are drawn",
            settings=first,
            exports=_exported("2025-11-03", base=Base(), lower=LowerKnuckle(),
                              upper=UpperKnuckle(), pin=Pin(), knob=Knob()),
        ),
        Chapter(
            author=BEN,
            date="2025-11-17T16:40:00+01:00",
            subject="Shade collar and cable clamp",
            story="two more parts; the collar's many setups are permitted",
            settings=later,
            exports=_exported("2025-11-17", collar=Collar(), clamp=Clamp()),
        ),
        Chapter(
            author=ADA,
            date="2025-12-02T09:05:00+01:00",
            subject="Base: a little wider, it looked lost",
            story="dia 90 -> 90.5: the base outgrows its bar by half a millimetre",
            settings=later,
            exports=_exported("2025-12-02", base=Base(diameter=90.5)),
        ),
    )  # fmt: skip


def _winter(later: Settings, pinned: Settings, renamed: Settings) -> tuple[Chapter, ...]:
    return (
        Chapter(
            author=BEN,
            date="2025-12-15T18:22:00+01:00",
            subject="Knuckles: exported again with the new program",
            story="other bytes, other entity numbers, the same shapes: nothing changes",
            settings=later,
            exports={
                LOWER: Export(LowerKnuckle(), "2025-12-15", "drawn with another program"),
                UPPER: Export(UpperKnuckle(), "2025-12-15", "drawn with another program"),
            },
        ),
        Chapter(
            author=ADA,
            date="2026-01-12T11:31:00+01:00",
            subject="Lower knuckle: the plug needs square corners, nearly",
            story="pocket corners R4 -> R3",
            settings=later,
            exports=_exported("2026-01-12", lower=LowerKnuckle(corner=3.0)),
        ),
        Chapter(
            author=BEN,
            date="2026-01-26T14:03:00+01:00",
            subject="Pivot pin: hole for a split pin",
            story="a cross hole turns a plain turned pin into a turned and drilled one; permitted",
            settings=pinned,
            exports=_exported("2026-01-26", pin=Pin(cross=3.0)),
        ),
        Chapter(
            author=ADA,
            date="2026-02-09T08:55:00+01:00",
            subject="clamp.step is now cable-clamp.step",
            story="a rename, nothing else",
            settings=renamed,
            renames=((CLAMP, CABLE_CLAMP),),
        ),
    )


def _spring(
    renamed: Settings, called: Settings, harder: Settings, last: Settings
) -> tuple[Chapter, ...]:
    return (
        Chapter(
            author=BEN,
            date="2026-02-23T17:15:00+01:00",
            subject="Thumb knob: knurl and thread as they will look",
            story="a knurl and a thread modelled as faces: a heavy file that helps no shop",
            settings=renamed,
            exports=_exported("2026-02-23", knob=Knob(modelled=True)),
        ),
        Chapter(
            author=ADA,
            date="2026-03-02T10:44:00+01:00",
            subject="Thumb knob: plain again, thread and knurl called out",
            story="plain surfaces and a callout instead",
            settings=called,
            exports=_exported("2026-03-02", knob=Knob()),
        ),
        Chapter(
            author=BEN,
            date="2026-03-09T13:20:00+01:00",
            subject="Upper knuckle in EN AW-7075",
            story="the configuration alone changes: another material",
            settings=harder,
        ),
        Chapter(
            author=ADA,
            date="2026-03-16T09:48:00+01:00",
            subject="Base: back to 90",
            story="a saving: the base fits its bar again",
            settings=harder,
            exports=_exported("2026-03-16", base=Base()),
        ),
        Chapter(
            author=BEN,
            date="2026-03-30T19:02:00+02:00",
            subject="Lower knuckle: deeper for the new plug, slot for the cable",
            story="pocket 10 -> 16 deep, corners R3 -> R1.5, and a slot that only a further "
            "setup can reach: two limits are passed",
            settings=last,
            exports=_exported(
                "2026-03-30", lower=LowerKnuckle(pocket_depth=16.0, corner=1.5, slot=5.0)
            ),
        ),
    )
