"""A part as the pure layers see it: facts, features, process, stock and its entry."""

from dfmcheck.model.base import Value
from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import Feature
from dfmcheck.model.settings import PartEntry
from dfmcheck.model.stock import ProcessChoice, Stock


class Part(Value, frozen=True):
    """One part of one revision, analysed.

    `file` is the path in the repository; `number` the part number (the entry's, or the file's
    stem); `entry` the part's entry in the configuration (None: undecided).
    """

    file: str
    number: str
    unit: str
    facts: PartFacts
    features: tuple[Feature, ...]
    process: ProcessChoice
    stock: Stock | None
    entry: PartEntry | None = None

    def feature(self, feature_id: str) -> Feature | None:
        """The feature of that id, if there is one."""
        return next((f for f in self.features if f.id == feature_id), None)
