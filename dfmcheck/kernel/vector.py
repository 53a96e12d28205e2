"""Small vector algebra on tuples."""

import math

from dfmcheck.model.base import Vec


def dot(a: Vec, b: Vec) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec, b: Vec) -> Vec:
    """Vector product."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def add(a: Vec, b: Vec) -> Vec:
    """Sum."""
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


def sub(a: Vec, b: Vec) -> Vec:
    """Difference."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def scale(a: Vec, k: float) -> Vec:
    """Multiple."""
    return (a[0] * k, a[1] * k, a[2] * k)


def norm(a: Vec) -> float:
    """Length."""
    return math.sqrt(dot(a, a))


def unit(a: Vec) -> Vec:
    """Unit vector; the null vector stays null."""
    length = norm(a)
    return scale(a, 1.0 / length) if length > 0.0 else a


def perpendicular(a: Vec) -> Vec:
    """Some unit vector square to `a`, built from the axis `a` is least along."""
    least = min(range(3), key=lambda i: (abs(a[i]), i))
    axis: Vec = (float(least == 0), float(least == 1), float(least == 2))
    return unit(cross(a, axis))


def tidy(a: Vec) -> Vec:
    """Components within 1e-12 of -1, 0 or 1 set to that, without negative zero."""
    return (_tidy(a[0]), _tidy(a[1]), _tidy(a[2]))


def _tidy(x: float) -> float:
    for value in (0.0, 1.0, -1.0):
        if abs(x - value) < 1e-12:
            return value
    return x
