"""Keys of the cache: what a cached value depends on, as one digest. Pure.

A value is found again only where everything that decides it is the same: the bytes it was computed
from, the kernel, the analyser, the settings of the mesh, the plugins that take part.
"""

from collections.abc import Iterable

_SCHEMA = "dfmcheck 1"


def facts_key(
    content: str,
    *,
    kernel: str,
    analyser: int,
    mesh: Iterable[tuple[str, float]] = (),
    recognisers: Iterable[str] = (),
) -> str:
    """Key of what the kernel read from a STEP file.

    Args:
        content: identity of the bytes, "git:<oid>" or "sha256:<hex>".
        kernel: version of the kernel.
        analyser: version of the code that takes facts from shapes.
        mesh: settings of the mesh by name, in any order (floats enter exactly).
        recognisers: plugins that take part ("name version"), in any order.

    Returns:
        64 hexadecimal digits.

    Raises:
        ValueError: the content has no digest, so that different bytes would share a key.
    """
    scheme, _, digest = content.partition(":")
    if not scheme or not digest:
        msg = f"a content is a scheme and a digest, as in sha256:…, not {content!r}"
        raise ValueError(msg)
    settings = [f"{name}={float(value).hex()}" for name, value in sorted(mesh)]
    return _digest(["facts", content, kernel, str(analyser)], settings, sorted(recognisers))


def derived_key(base: str, stage: str, version: int, plugins: Iterable[str] = ()) -> str:
    """Key of what is computed from a cached value.

    Args:
        base: key of the value it is computed from.
        stage: what is computed ("features").
        version: version of the code that computes it.
        plugins: plugins that take part ("name version"), in any order.

    Returns:
        64 hexadecimal digits.
    """
    return _digest(["derived", base, stage, str(version)], sorted(plugins))


def _digest(*groups: list[str]) -> str:
    """SHA-256 over groups of texts, each with its length before it: no two inputs run together."""
    from hashlib import sha256

    total = sha256()
    for group in ([_SCHEMA], *groups):
        total.update(f"[{len(group)}]".encode())
        for text in group:
            data = text.encode("utf-8", "surrogateescape")
            total.update(f"{len(data)}:".encode())
            total.update(data)
    return total.hexdigest()
