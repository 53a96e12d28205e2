"""What the recognisers share: the graph, the features found so far, who owns which face."""

from collections import Counter
from collections.abc import Iterable

from msgspec.structs import replace

from dfmcheck.features.graph import Graph
from dfmcheck.model.facts import Face, PartFacts
from dfmcheck.model.feature import Feature


class Context:
    """The state of one recognition; a recogniser reads it and returns features.

    `notes` keeps what one recogniser worked out and another needs.
    A recogniser names its features with `new_id`, so that they can refer to each other by `of`;
    the pipeline renumbers them at the end.
    """

    def __init__(self, part: PartFacts) -> None:
        """Start with no feature and all faces free."""
        self.part = part
        self.graph = Graph(part)
        self.features: list[Feature] = []
        self._by_id: dict[str, Feature] = {}
        self.owner: dict[int, str] = {}
        self.notes: dict[str, object] = {}
        self._numbers: Counter[str] = Counter()

    @property
    def faces(self) -> tuple[Face, ...]:
        """All faces of the part."""
        return self.part.faces

    def free(self, face: int) -> bool:
        """True where no feature owns this face yet."""
        return face not in self.owner

    def free_faces(self) -> list[int]:
        """The faces that no feature owns yet, ascending."""
        return [f.index for f in self.part.faces if f.index not in self.owner]

    def feature(self, name: str) -> Feature:
        """The feature with this id.

        Raises:
            KeyError: there is none.
        """
        return self._by_id[name]

    def new_id(self, kind: str) -> str:
        """A fresh id for a feature of this kind."""
        self._numbers[kind] += 1
        return f"{kind}-{self._numbers[kind]}"

    def add(self, found: Iterable[Feature]) -> None:
        """Take features in; faces that are owned already stay with their owner.

        A feature left without any face is dropped.
        """
        for feature in found:
            faces = tuple(sorted({f for f in feature.faces if f not in self.owner}))
            if not faces:
                continue
            kept = feature if faces == feature.faces else replace(feature, faces=faces)
            self.features.append(kept)
            self._by_id[feature.id] = kept
            for f in faces:
                self.owner[f] = feature.id
