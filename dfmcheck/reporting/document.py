"""The shape of the JSON report: what `--report json=…` writes, field by field.

The order of the fields is the order of the keys; the JSON Schema is generated from these types.
Fields are only ever added to a format; a change of meaning makes a new one. Readers ignore keys
that they do not know.
"""

from typing import Annotated, Literal

from msgspec import Meta

from dfmcheck.model.base import Value, Vec
from dfmcheck.model.change import Motion, Status
from dfmcheck.model.facts import NotRead
from dfmcheck.model.feature import (
    Boss,
    Chamfer,
    Counterbore,
    Countersink,
    Engraving,
    Fillet,
    Freeform,
    Groove,
    Hole,
    Knurl,
    Pocket,
    Slot,
    Step,
    Thread,
)
from dfmcheck.model.finding import FindingLevel, NotChecked
from dfmcheck.model.history import Revision
from dfmcheck.model.report import Verdict
from dfmcheck.model.settings import Callout, Permit, PolicyChange
from dfmcheck.model.stock import Process, Stock

FORMAT = 1
"""Version of the JSON report."""

Make = Literal["machined", "bought", "printed", "bent"]


class HoleEntry(Hole, frozen=True, tag_field="kind", tag="hole"):
    """A hole with the mouths that belong to it, told once more where they are looked for.

    `counterbore` and `countersink` are the widest of their kind whose `of` names this hole;
    all of them stand in `features` as well.
    """

    counterbore: Counterbore | None = None
    countersink: Countersink | None = None


FeatureEntry = (
    HoleEntry
    | Counterbore
    | Countersink
    | Pocket
    | Slot
    | Step
    | Boss
    | Groove
    | Fillet
    | Chamfer
    | Freeform
    | Thread
    | Knurl
    | Engraving
)


class Figures(Value, frozen=True):
    """What was measured and chosen for a part in one revision.

    `box_mm` are the edges of the box along the file's own axes x, y, z; `own_box_mm` along the
    axes of the part itself, whichever way it lies in the file. `unit` is the length unit that
    the file declares; all figures are in millimetres.
    """

    file: str
    name: str
    unit: str
    count: int
    solids: int
    faces: int
    closed: bool
    volume_mm3: float
    area_mm2: float
    box_mm: Vec
    own_box_mm: Vec
    process: Process
    process_reason: str
    setup_directions: tuple[Vec, ...]
    stock: Stock | None
    make: Make | None
    letter: str | None
    material: str | None
    finish: tuple[str, ...]
    callouts: tuple[Callout, ...]
    features: tuple[FeatureEntry, ...]


class ChangeEntry(Value, frozen=True):
    """One change in words of the trade; `caused_by` is the index of the change it follows from.

    `count` equal features changed the same way; `features_before` and `features_after` list them.
    """

    kind: str
    text: str
    count: int
    what: str
    unit: str
    before: float | str | None
    after: float | str | None
    feature_before: str | None
    feature_after: str | None
    features_before: tuple[str, ...]
    features_after: tuple[str, ...]
    faces_before: tuple[int, ...]
    faces_after: tuple[int, ...]
    caused_by: int | None


class LimitEntry(Value, frozen=True):
    """The limit that a finding was measured against, and where the limit comes from."""

    name: str
    value: float | None
    unit: str
    source: str


class FindingEntry(Value, frozen=True):
    """One finding; `holds` is True where it holds the build. `line` is a line of the STEP file.

    `identity` stays the same from revision to revision for the same finding.
    """

    rule: str
    level: FindingLevel
    state: Literal["new", "old"]
    holds: bool
    message: str
    cost: str
    advice: str
    limit: LimitEntry | None
    measured: float | None
    measured_before: float | None
    feature: str | None
    faces: tuple[int, ...]
    line: int | None
    permit: Permit | None
    identity: str


class PartEntry(Value, frozen=True):
    """One part. Its figures are null where it was removed or could not be read.

    `file` is the path in the repository; where it is no UTF-8, each byte that is none reads
    `\\xNN` and `file_base64` holds the exact bytes. `former_file` is the path before a rename.
    `number` is the part number of the configuration, otherwise the file's stem. `before` holds
    the same figures of the former revision. `changes` come largest first.
    """

    file: str
    file_base64: str | None
    former_file: str | None
    number: str
    letter: str | None
    name: str
    status: Annotated[Status | None, Meta(description="null for the command part")]
    make: Make | None
    material: str | None
    finish: tuple[str, ...]
    callouts: tuple[Callout, ...]
    unit: str | None
    count: int | None
    solids: int | None
    faces: int | None
    closed: bool | None
    volume_mm3: float | None
    area_mm2: float | None
    box_mm: Vec | None
    own_box_mm: Vec | None
    process: Process | None
    process_reason: str | None
    setup_directions: tuple[Vec, ...]
    stock: Stock | None
    features: tuple[FeatureEntry, ...]
    findings: tuple[FindingEntry, ...]
    same_shape: bool | None
    motion: Motion | None
    scale: float | None
    changes: tuple[ChangeEntry, ...]
    matched_features: tuple[tuple[str, str], ...]
    before: Figures | None
    not_read: NotRead | None
    former_not_read: NotRead | None
    doubts: tuple[str, ...]
    notes: tuple[str, ...]


class RangeEntry(Value, frozen=True):
    """The two revisions compared, and why these."""

    before: Revision
    after: Revision
    chosen: str
    fork: bool
    notes: tuple[str, ...]


class PermitEntry(Value, frozen=True):
    """A deviation permit and what became of it in this run."""

    permit: Permit
    state: Literal[
        "used", "unused", "expired", "exceeded", "no-such-part", "no-such-limit", "not-looked-at"
    ]
    text: str


class Counts(Value, frozen=True):
    """How many parts came out how; `unchanged` counts STEP files that are the same."""

    parts: int
    added: int
    removed: int
    changed: int
    renamed: int
    re_exported: int
    configuration: int
    unreadable: int
    unchanged: int
    could_not_judge: int
    holding: int


class Report(Value, frozen=True):
    """One run of `gate` or `part`."""

    format: Literal[1]
    dfmcheck: Annotated[str, Meta(description="version of the tool")]
    command: Literal["gate", "part"]
    verdict: Verdict
    exit_status: int
    mode: Literal["hold", "advise"]
    range: RangeEntry | None
    policy_source: str
    policy_changes: tuple[PolicyChange, ...]
    counts: Counts
    parts: tuple[PartEntry, ...]
    permits: tuple[PermitEntry, ...]
    not_checked: tuple[NotChecked, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]


class Reports(Value, frozen=True):
    """Several runs at once: a push of several branches, each judged by itself.

    `verdict` and `exit_status` are those of the worst.
    """

    format: Literal[1]
    dfmcheck: Annotated[str, Meta(description="version of the tool")]
    command: Literal["gate", "part"]
    verdict: Verdict
    exit_status: int
    runs: tuple[Report, ...]
