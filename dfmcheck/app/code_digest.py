"""Digest of the code that computed a cached value.

A number that somebody has to raise is forgotten one day; the code's own bytes are not. The digest
is the same on every machine that runs the same version.
"""

from functools import cache
from hashlib import sha256
from pathlib import Path

import dfmcheck

READING = ("kernel", "model")
"""Packages that decide what is read from the same STEP bytes."""

DERIVING = ("features", "planning", "comparing", "model")
"""Packages that decide what is derived from the same facts."""


@cache
def code_digest(packages: tuple[str, ...]) -> str:
    """Digest of all modules and data files of some packages of dfmcheck (16 hexadecimal digits)."""
    root = Path(dfmcheck.__file__).parent
    total = sha256()
    for package in packages:
        files = (p for p in (root / package).rglob("*") if p.suffix in {".py", ".toml", ".json"})
        for path in sorted(files):
            data = path.read_bytes().replace(b"\r\n", b"\n")
            total.update(f"{path.relative_to(root).as_posix()} {len(data)}\n".encode())
            total.update(data)
    return total.hexdigest()[:16]
