"""Counting which faces were called what, and the table of confusions."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field


@dataclass
class Confusion:
    """Faces counted by what they are and what they were called."""

    pairs: Counter[tuple[str, str]] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)

    def add(self, part: str, face: int, known: str | Iterable[str], called: str) -> None:
        """Count one face; where several names are right, the one that was given counts."""
        names = {known} if isinstance(known, str) else set(known)
        if called in names:
            self.pairs[called, called] += 1
            return
        expected = " or ".join(sorted(names))
        self.pairs[expected, called] += 1
        self.wrong.append(f"{part} face {face}: {expected}, called {called}")

    @property
    def faces(self) -> int:
        """How many faces were counted."""
        return sum(self.pairs.values())

    @property
    def right_ratio(self) -> float:
        """Share of faces called what they are."""
        right = sum(n for (known, called), n in self.pairs.items() if known == called)
        return right / self.faces

    def table(self) -> str:
        """The confusions, most frequent first, under a line with the total."""
        rows = [f"{self.right_ratio:.2%} of {self.faces} faces"]
        for (known, called), n in sorted(self.pairs.items(), key=lambda x: (-x[1], x[0])):
            rows.append(f"{n:6d}  {known:30s} {'' if known == called else 'called ' + called}")
        return "\n".join([*rows, *self.wrong])
