"""Entities that do not hang together, found in the text alone."""

from dfmcheck.kernel.network import Network

SOUND = b"""ISO-10303-21;
HEADER;
ENDSEC;
DATA;
#1=CARTESIAN_POINT('a #77 in a string',(0.,0.,0.));
/* a comment on #78 */
#2=CLOSED_SHELL('',(#3));
#3=ADVANCED_FACE('',(),#1,.T.);
#4=MANIFOLD_SOLID_BREP('',#2);
#5=ANNOTATION('',#6);
#6=NOTE('');
#10=NEXT_ASSEMBLY_USAGE_OCCURRENCE('1','pin','',#4,#4,$);
#11=PRODUCT_DEFINITION_SHAPE('Placement','',#10);
#12=CONTEXT_DEPENDENT_SHAPE_REPRESENTATION(#13,#11);
#13=SHAPE_REPRESENTATION_RELATIONSHIP('','',#4,#4);
#14=NEXT_ASSEMBLY_USAGE_OCCURRENCE('2','pin','',#4,#4,$);
#15=PRODUCT_DEFINITION_SHAPE('Placement','',#14);
#16=CONTEXT_DEPENDENT_SHAPE_REPRESENTATION(#13,#15);
ENDSEC;
END-ISO-10303-21;
"""


def test_a_sound_file_has_nothing_missing() -> None:
    network = Network(SOUND)
    assert network.unresolved() == []
    assert network.doubled() == []
    assert network.unplaced() == []
    assert network.strange() == 0


def test_references_to_nothing() -> None:
    network = Network(SOUND.replace(b"#6=NOTE('');\n", b""))
    assert network.unresolved() == [6]
    assert network.line_of_reference(6) == 10


def test_numbers_given_twice() -> None:
    assert Network(SOUND.replace(b"#6=NOTE", b"#5=NOTE")).doubled() == [5]


def test_only_what_shapes_are_built_on_counts_as_shape() -> None:
    entities = Network(SOUND).shape_entities
    assert {1, 2, 3, 4} <= entities
    assert not {5, 6} & entities


def test_occurrences_without_a_place() -> None:
    line = b"#16=CONTEXT_DEPENDENT_SHAPE_REPRESENTATION(#13,#15);\n"
    assert Network(SOUND.replace(line, b"")).unplaced() == [14]


def test_garbage_outside_strings() -> None:
    assert Network(SOUND.replace(b"#3=ADV", b"#3=A\x01\x02V")).strange() == 2
    assert Network(SOUND.replace(b"a #77", "ä #77".encode())).strange() == 0
