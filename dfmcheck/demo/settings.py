"""The demo's `dfmcheck.toml`, revision by revision."""

from dataclasses import dataclass

_HEAD = """\
# A desk lamp by a studio of two. Everything here is invented for the demo of dfmcheck:
# people, parts, figures.
format = 1
currency = "EUR"
quantities = [1, 10, 25]
look_at = ["cad/**/*.step"]

[gate]
mode = "hold"
hold_on = "new"

[limits]
setups = 2                  # more than two clampings: we want to talk about it first
stock_rise = 5              # percent of a piece's stock
inside_corner_radius = 2.0  # mm: smaller cutters break too often at our shop
"""

_BASE = """
[part.DL-101]
file = "cad/base.step"
name = "Weighted base"
letter = "A"
material = "11SMn30"
finish = ["powder-coated-black"]
"""

_LOWER = """
[part.DL-102]
file = "cad/knuckle-lower.step"
name = "Lower knuckle"
letter = "{letter}"
material = "EN AW-6082-T6"
finish = ["bead-blasted", "anodised-natural"]

[[part.DL-102.callout]]
find = {{ kind = "hole", diameter_mm = 8.0, count = 1 }}
fit = "H7"
"""

_UPPER = """
[part.DL-103]
file = "cad/knuckle-upper.step"
name = "Upper knuckle"
letter = "A"
material = "{material}"
finish = ["bead-blasted", "anodised-natural"]

[[part.DL-103.callout]]
find = {{ kind = "hole", diameter_mm = 8.0, count = 1 }}
fit = "H7"

[[part.DL-103.callout]]
find = {{ kind = "hole", diameter_mm = 3.3, count = 2 }}
thread = "M4"
depth_mm = 8
"""

_PIN = """
[part.DL-104]
file = "cad/pivot-pin.step"
name = "Pivot pin"
letter = "A"
material = "1.4305"
finish = ["as-machined"]
"""

_KNOB = """
[part.DL-105]
file = "cad/thumb-knob.step"
name = "Thumb knob"
letter = "A"
material = "CW614N"
finish = ["as-machined"]
"""

_KNOB_CALLOUT = """
[[part.DL-105.callout]]
find = { kind = "hole", diameter_mm = 4.2, count = 1 }
thread = "M5"
depth_mm = 7
note = "head dia 20 straight-knurled, pitch 1, over its whole width"
"""

_LATER = """
[part.DL-106]
file = "cad/shade-collar.step"
name = "Shade collar"
letter = "A"
material = "EN AW-6082-T6"
finish = ["bead-blasted", "anodised-natural"]

[[part.DL-106.callout]]
find = {{ kind = "hole", diameter_mm = 3.3, count = 3 }}
thread = "M4"

[part.DL-107]
file = "{clamp}"
name = "Cable clamp"
letter = "A"
material = "EN AW-6082-T6"
finish = ["bead-blasted"]

[[permit]]
part = "DL-106"
limit = "setups"
up_to = 5
reason = "three set screws at 120 degrees hold the shade evenly"
owner = "ada"
until = 2030-12-31
"""

_PIN_PERMIT = """
[[permit]]
part = "DL-104"
limit = "setups"
up_to = 3
reason = "the split pin keeps the arm from falling off"
owner = "ben"
until = 2030-12-31
"""


@dataclass(frozen=True)
class Settings:
    """What differs between the revisions of the configuration."""

    lower_letter: str = "A"
    upper_material: str = "EN AW-6082-T6"
    knob_callout: bool = False
    clamp: str = ""
    pin_permit: bool = False

    def text(self) -> str:
        """The file's content; `clamp` "" stands for the time before the later parts."""
        pieces = [_HEAD, _BASE, _LOWER.format(letter=self.lower_letter)]
        pieces += [_UPPER.format(material=self.upper_material), _PIN, _KNOB]
        if self.knob_callout:
            pieces.append(_KNOB_CALLOUT)
        if self.clamp:
            pieces.append(_LATER.format(clamp=self.clamp))
        if self.pin_permit:
            pieces.append(_PIN_PERMIT)
        return "".join(pieces)
