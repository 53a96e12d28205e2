"""Whatever facts a damaged file gives: features come out, or none; nothing is raised."""

from collections.abc import Callable

from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from polyhedra import block_with_hollow, prism
from shafts import shaft

from dfmcheck.features.recognise import recognise
from dfmcheck.model.facts import Edge, Face, PartFacts

PARTS = (
    block_with_hollow((50.0, 45.0, 20.0), [(8, 6), (30, 6), (30, 25), (8, 25)], 9.0),
    block_with_hollow((50.0, 45.0, 20.0), [(8, 8), (38, 8), (38, 18), (20, 18), (8, 36)], None),
    prism([(0, 0), (40, 0), (40, 12), (25, 12), (25, 5), (15, 5), (15, 20), (0, 17)], 30.0),
    shaft((20.0, 15.0), (12.0, 4.0), (20.0, 10.0), (30.0, 8.0)),
)

FACES: tuple[Callable[[Face], Face], ...] = (
    lambda f: replace(f, loops=()),
    lambda f: replace(f, surface="cylinder"),
    lambda f: replace(f, surface="cone", radii_mm=(0.0, 0.0)),
    lambda f: replace(f, surface="torus"),
    lambda f: replace(f, surface="sphere"),
    lambda f: replace(f, surface="freeform"),
    lambda f: replace(f, surface="plane"),
    lambda f: replace(f, bend="inside"),
    lambda f: replace(f, bend="outside"),
    lambda f: replace(f, axis=None, axis_point=None),
    lambda f: replace(f, axis=(0.0, 0.0, 1.0), axis_point=(1.0, 2.0, 3.0)),
    lambda f: replace(f, radius_mm=0.0, minor_radius_mm=0.0, half_angle_deg=0.0),
    lambda f: replace(f, radius_mm=4.0, along_mm=(0.0, 5.0), span_deg=200.0),
    lambda f: replace(f, along_mm=None, span_deg=None, radii_mm=None),
    lambda f: replace(f, normal=(0.0, 0.0, 0.0)),
    lambda f: replace(f, area_mm2=0.0),
)
EDGES: tuple[Callable[[Edge], Edge], ...] = (
    lambda e: replace(e, convexity="convex"),
    lambda e: replace(e, convexity="concave"),
    lambda e: replace(e, convexity="tangent"),
    lambda e: replace(e, convexity="seam"),
    lambda e: replace(e, convexity="open", faces=e.faces[:1]),
    lambda e: replace(e, length_mm=0.0, start=e.middle, end=e.middle),
    lambda e: replace(e, curve="circle"),
    lambda e: replace(e, curve="other"),
    lambda e: replace(e, centre=None, axis=None, radius_mm=None),
)

hits = st.lists(
    st.tuples(st.booleans(), st.integers(0, 500), st.integers(0, 500)), min_size=1, max_size=12
)


@given(st.sampled_from(PARTS), hits)
def test_nothing_is_raised(part: PartFacts, damage: list[tuple[bool, int, int]]) -> None:
    faces, edges = list(part.faces), list(part.edges)
    for on_face, where, how in damage:
        if on_face:
            k = where % len(faces)
            faces[k] = FACES[how % len(FACES)](faces[k])
        else:
            k = where % len(edges)
            edges[k] = EDGES[how % len(EDGES)](edges[k])
    features = recognise(replace(part, faces=tuple(faces), edges=tuple(edges)))
    owned = [f for feature in features for f in feature.faces]
    assert len(owned) == len(set(owned))
    assert all(0 <= f < len(faces) for f in owned)
