"""Changes while they are being worked out: not yet grouped, caused, ordered or worded."""

from dataclasses import dataclass, field

from dfmcheck.comparing.align import Alignment
from dfmcheck.comparing.features import FeatureMatches
from dfmcheck.model.base import Vec
from dfmcheck.model.feature import Feature
from dfmcheck.model.part import Part

Value = float | str | None


@dataclass(frozen=True)
class Sides:
    """Two revisions of a part with everything matched; `before` lies carried over `after`."""

    before: Part
    after: Part
    alignment: Alignment
    features: FeatureMatches


@dataclass(eq=False)
class Raw:
    """One change.

    `first` and `second` are the features before and after, each at the place it has in its own
    file. `delta` is the growth of a length along `direction` (common coordinates), `shift` a
    displacement, `ends` the displacements of both ends of the box along `direction`.
    `effect_mm3` orders changes; `derived` changes follow from others by their nature (volume).
    `cause` is the change it follows from. `what` names the size where the kind leaves it open.
    `turned` is True where the feature is a diameter of a turned part.
    """

    kind: str
    before: Value = None
    after: Value = None
    first: Feature | None = None
    second: Feature | None = None
    features_before: tuple[str, ...] = ()
    features_after: tuple[str, ...] = ()
    faces_before: tuple[int, ...] = ()
    faces_after: tuple[int, ...] = ()
    effect_mm3: float = 0.0
    delta: float = 0.0
    direction: Vec | None = None
    shift: Vec | None = None
    ends: tuple[float, ...] = ()
    what: str = ""
    derived: bool = False
    turned: bool = False
    cause: "Raw | None" = None
    members: list["Raw"] = field(default_factory=list)

    @property
    def count(self) -> int:
        """How many equal changes this one stands for."""
        return max(1, len(self.members))


def of_features(kind: str, first: Feature | None, second: Feature | None) -> Raw:
    """A change of one feature, with its ids and faces filled in."""
    return Raw(
        kind=kind,
        first=first,
        second=second,
        features_before=() if first is None else (first.id,),
        features_after=() if second is None else (second.id,),
        faces_before=() if first is None else first.faces,
        faces_after=() if second is None else second.faces,
    )
