import msgspec
import pytest
from builders import make_face, make_facts, make_feature, make_part

from dfmcheck.comparing.compare import compare

FEATURES = [
    ("hole", {"diameter_mm": 7.0}, "hole-widened", "hole dia 6 -> 7"),
    ("hole", {"depth_mm": 12.0, "reach_mm": 12.0}, "hole-deepened", "hole dia 6 deeper: 10 -> 12"),
    ("hole", {"through": False}, "hole-blind", "hole dia 6 now blind: through -> 10 deep"),
    ("counterbore", {"depth_mm": 7.0}, "counterbore-deepened",
     "counterbore dia 11 deeper: 6.4 -> 7"),
    ("countersink", {"angle_deg": 82.0}, "countersink-angle",
     "countersink with another angle: 90 -> 82 deg"),
    ("pocket", {"corner_radius_mm": 1.5}, "corner-tightened",
     "pocket 30 x 20: inside corners R4 -> R1.5"),
    ("pocket", {"corner_radius_mm": 0.0}, "corner-tightened",
     "pocket 30 x 20: inside corners R4 -> sharp"),
    ("pocket", {"open": True}, "pocket-opened",
     "pocket 30 x 20 now open at the side: closed -> opened"),
    ("pocket", {"outline": "free"}, "pocket-outline",
     "pocket 30 x 20 with another outline: rectangular -> free"),
    ("slot", {"width_mm": 5.0}, "slot-narrowed", "slot narrower: 6 -> 5 (22 x 5 x 6 deep)"),
    ("slot", {"profile": "tee"}, "slot-profile",
     "slot 22 x 6 with another cross-section: rectangular -> tee"),
    ("step", {"depth_mm": 6.0}, "step-deepened", "step 40 x 10 deeper: 5 -> 6"),
    ("boss", {"height_mm": 7.0}, "boss-higher", "boss 12 x 12 higher: 5 -> 7"),
    ("groove", {"width_mm": 2.5}, "groove-widened", "groove wider: 2 -> 2.5 (2.5 wide x 1 deep)"),
    ("fillet", {"radius_mm": 3.0}, "corner-tightened", "inside corner R4 -> R3"),
    ("chamfer", {"width_mm": 1.0}, "chamfer-widened", "chamfer wider: 0.35 -> 0.71"),
    ("freeform", {"area_mm2": 500.0}, "freeform-grew", "freeform patch larger: 400 -> 500 mm2"),
    ("thread", {"pitch_mm": 1.0}, "thread-sizes",
     "thread dia 8 pitch 1 with other sizes: helical outside dia 8.00 pitch 1.25 -> "),
    ("thread", {"length_mm": 15.0}, "thread-lengthened", "thread longer: 12 -> 15"),
    ("knurl", {"pattern": "crossed"}, "knurl-sizes",
     "knurl dia 18 pitch 0.8 with other sizes: straight dia 18.00 pitch 0.80 -> crossed"),
    ("engraving", {"narrowest_mm": 0.4}, "engraving-finer", "engraving finer: 0.8 -> 0.4"),
    ("engraving", {"raised": True}, "engraving-raised", "engraving now raised: sunk -> raised"),
]  # fmt: skip


def a_face(area_mm2, index=0):
    """A freeform face of this area: another area is another shape."""
    return make_face(
        index, surface="freeform", bend="mixed", area_mm2=area_mm2, centroid=(30.0, 20.0, index)
    )


@pytest.mark.parametrize(
    ("kind", "sizes", "change", "text"), FEATURES, ids=lambda v: v if isinstance(v, str) else ""
)
def test_each_size_of_each_feature_has_its_change_and_words(kind, sizes, change, text):
    before = make_part(make_feature(kind, faces=(0,)), facts=make_facts((a_face(100.0),)))
    after = make_part(make_feature(kind, faces=(0,), **sizes), facts=make_facts((a_face(130.0),)))
    found = [c for c in compare(before, after).changes if c.feature_after is not None]
    assert [c.kind for c in found] == [change]
    assert found[0].text.startswith(text)
    assert found[0].feature_before == found[0].feature_after == f"{kind}-1"


@pytest.mark.parametrize("kind", ["thread", "knurl"])
def test_modelled_threads_and_knurls_appear_and_vanish(kind):
    part, bare = make_part(make_feature(kind)), make_part()
    (appeared,) = [c for c in compare(bare, part).changes if c.caused_by is None]
    assert appeared.kind == f"{kind}-modelled"
    (vanished,) = [c for c in compare(part, bare).changes if c.caused_by is None]
    assert vanished.kind == f"{kind}-removed"


def test_a_pocket_that_became_a_slot():
    face = make_face(0, centroid=(30.0, 20.0, 7.0))
    facts = make_facts((face,))
    pocket = make_part(make_feature("pocket", faces=(0,)), facts=facts)
    other = msgspec.structs.replace(face, area_mm2=120.0)
    slot = make_part(make_feature("slot", faces=(0,)), facts=make_facts((other,)))
    (change,) = [c for c in compare(pocket, slot).changes if c.kind == "became"]
    assert (change.before, change.after) == ("pocket", "slot")
    assert change.text.startswith("pocket became a slot: 30 x 20 x 8 deep")


def test_a_size_within_the_tolerance_is_no_change():
    before = make_part(make_feature("hole"))
    after = make_part(make_feature("hole", diameter_mm=6.005))
    assert [c for c in compare(before, after).changes if c.feature_after] == []


def test_parts_of_a_feature_that_came_are_told_under_it():
    hole = make_feature("hole", id="hole-1", form="counterbored")
    seat = make_feature("counterbore", id="counterbore-1", of="hole-1")
    changes = compare(make_part(), make_part(hole, seat)).changes
    kinds = {c.kind: c for c in changes}
    assert kinds["hole-added"].caused_by is None
    assert changes[kinds["counterbore-added"].caused_by].kind == "hole-added"


def test_corner_fillets_of_a_pocket_do_not_repeat_its_corners():
    def a_pocket(radius):
        corners = [
            make_feature(
                "fillet", faces=(k,), of="pocket-1", radius_mm=radius, place=(20.0, 9.0 * k, 15.0)
            )
            for k in range(1, 5)
        ]
        pocket = make_feature("pocket", faces=(0,), corner_radius_mm=radius)
        faces = tuple(a_face(100.0 + radius, k) for k in range(5))
        return make_part(pocket, *corners, facts=make_facts(faces))

    found = compare(a_pocket(4.0), a_pocket(2.5)).changes
    assert [c.text for c in found if c.feature_after] == [
        "pocket 30 x 20: inside corners R4 -> R2.5"
    ]


def test_a_feature_read_otherwise_on_untouched_faces_has_not_changed():
    faces = (a_face(100.0), a_face(200.0, 1))
    drilled = (a_face(100.0), a_face(190.0, 1))
    slot = make_feature("slot", faces=(0,))
    before = make_part(slot, make_feature("step", faces=(1,)), facts=make_facts(faces))
    other = make_feature("slot", faces=(0,), width_mm=9.0, place=(31.0, 26.0, 15.0))
    after = make_part(
        other, make_feature("step", faces=(1,), depth_mm=6.0), facts=make_facts(drilled)
    )
    changes = compare(before, after).changes
    assert [c.kind for c in changes if c.feature_after] == ["step-deepened"]
