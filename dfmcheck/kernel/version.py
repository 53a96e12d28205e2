"""Which kernel reads, and how: parts of the cache key, known without loading the kernel."""

from functools import cache
from importlib.metadata import PackageNotFoundError, version

ANALYSER = 5
"""Raised whenever the facts measured from the same bytes change."""

_DISTRIBUTIONS = ("cadquery-ocp-novtk", "cadquery-ocp")


@cache
def kernel_version() -> str:
    """Distribution and version of the geometry kernel, from the installed metadata alone.

    "absent" where no distribution is installed.
    """
    for name in _DISTRIBUTIONS:
        try:
            return f"{name} {version(name)}"
        except PackageNotFoundError:
            continue
    return "absent"
