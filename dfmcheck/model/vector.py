"""Small vector algebra on tuples, for all layers."""

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
    """Multiple, without negative zeros."""
    return (a[0] * k + 0.0, a[1] * k + 0.0, a[2] * k + 0.0)


def norm(a: Vec) -> float:
    """Length."""
    return math.sqrt(a[0] * a[0] + a[1] * a[1] + a[2] * a[2])


def unit(a: Vec) -> Vec:
    """Unit vector; the null vector stays null."""
    length = norm(a)
    return scale(a, 1.0 / length) if length > 0.0 else a


def distance(a: Vec, b: Vec) -> float:
    """Distance of two places."""
    return math.dist(a, b)


def parallel(a: Vec, b: Vec, degrees: float = 0.1) -> bool:
    """True where two unit directions are parallel or opposite."""
    return norm(cross(a, b)) < math.sin(math.radians(degrees))


def square(a: Vec, b: Vec, degrees: float = 0.1) -> bool:
    """True where two unit directions are square to each other."""
    return abs(dot(a, b)) < math.sin(math.radians(degrees))


def angle_deg(a: Vec, b: Vec) -> float:
    """Angle between two unit directions, 0 to 180."""
    return math.degrees(math.atan2(norm(cross(a, b)), dot(a, b)))


def perpendicular(a: Vec) -> Vec:
    """Some unit vector square to `a`, built from the axis `a` is least along."""
    least = min(range(3), key=lambda i: (abs(a[i]), i))
    axis: Vec = (float(least == 0), float(least == 1), float(least == 2))
    return unit(cross(a, axis))


def from_axis(p: Vec, origin: Vec, axis: Vec) -> tuple[float, float]:
    """Place along an axis from its origin, and distance from the axis, of a point, in mm."""
    d = sub(p, origin)
    along = dot(d, axis)
    return along, norm(sub(d, scale(axis, along)))
