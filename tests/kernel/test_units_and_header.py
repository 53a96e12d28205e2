"""Units and header of public files and of files made here."""

import io
from collections.abc import Callable
from pathlib import Path

import pytest
from build123d import Box

from dfmcheck.model.facts import FileFacts

Read = Callable[..., FileFacts]


@pytest.mark.reference_parts
@pytest.mark.parametrize(("file", "unit"), [("in", "inch"), ("m", "m"), ("mm", "mm")])
def test_the_same_cube_in_three_units(
    read: Read, reference_parts: Path, file: str, unit: str
) -> None:
    # occt-import-js test files: a cube of one metre, declared in inch, metre and millimetre
    facts = read((reference_parts / "cube-units" / f"cube-{file}.step").read_bytes())
    assert facts.unit == unit
    assert facts.units == (unit,)
    (part,) = facts.parts
    assert part.name == "Cube"
    assert part.volume_mm3 == pytest.approx(1e9, rel=1e-9)
    assert part.box_mm == pytest.approx((1000.0, 1000.0, 1000.0), abs=1e-6)
    assert not facts.doubts
    assert not part.doubts


METRE = b"SI_UNIT(.MILLI.,.METRE.)"


@pytest.mark.parametrize(
    ("prefix", "unit", "factor"),
    [
        (b"$", "m", 1000.0),
        (b".CENTI.", "cm", 10.0),
        (b".DECI.", "dm", 100.0),
        (b".MICRO.", "µm", 0.001),
        (b".KILO.", "km", 1e6),
    ],
)
def test_si_prefixes(
    read: Read, as_step: Callable[..., bytes], prefix: bytes, unit: str, factor: float
) -> None:
    # ISO 80000-1: the SI prefixes
    data = as_step(Box(10, 20, 30)).replace(METRE, b"SI_UNIT(" + prefix + b",.METRE.)")
    facts = read(data)
    assert facts.unit == unit
    expected = sorted(x * factor for x in (10, 20, 30))
    assert sorted(facts.parts[0].box_mm) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("name", "unit", "millimetres"),
    [("INCH", "inch", 25.4), ("FOOT", "foot", 304.8), ("THOU", "thou", 0.0254)],
)
def test_inch_and_foot(
    read: Read, as_step: Callable[..., bytes], name: str, unit: str, millimetres: float
) -> None:
    # the international inch of 1959 is 25.4 mm exactly, the foot twelve of them
    facts = read(in_inches(as_step(Box(10, 20, 30)), name, millimetres))
    assert facts.unit == unit
    expected = sorted(x * millimetres for x in (10, 20, 30))
    assert sorted(facts.parts[0].box_mm) == pytest.approx(expected, rel=1e-6)
    assert not facts.doubts


def in_inches(step: bytes, name: str, millimetres: float) -> bytes:
    """The file with its one unit replaced by one of so many millimetres."""
    data = step.decode()
    assert data.count("( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.) )") == 1
    data = data.replace(
        "( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.) )",
        f"( CONVERSION_BASED_UNIT('{name}',#90001) LENGTH_UNIT() NAMED_UNIT(#90002) )",
    )
    more = (
        f"#90001=LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE({millimetres}),#90003);\n"
        "#90002=DIMENSIONAL_EXPONENTS(1.,0.,0.,0.,0.,0.,0.);\n"
        "#90003=( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.) );\n"
    )
    head, _, tail = data.rpartition("ENDSEC;")
    return (head + more + "ENDSEC;" + tail).encode()


def test_an_inch_that_is_none_is_doubted(read: Read, as_step: Callable[..., bytes]) -> None:
    data = in_inches(as_step(Box(10, 20, 30)), "INCH", 29.4)
    assert any("29.4 mm for one inch" in d for d in read(data).doubts)


def test_a_file_without_a_unit_is_doubted(read: Read, as_step: Callable[..., bytes]) -> None:
    data = as_step(Box(10, 20, 30))
    without = data.replace(b"GLOBAL_UNIT_ASSIGNED_CONTEXT", b"GLOBAL_UNIT_UNASSIGNED_CONTEXT")
    assert without != data
    assert read(without).doubts


@pytest.mark.parametrize(
    ("schema", "named"),
    [
        ("AP203", "CONFIG_CONTROL_DESIGN"),
        ("AP214IS", "AUTOMOTIVE_DESIGN"),
        ("AP242DIS", "AP242_MANAGED_MODEL_BASED_3D_ENGINEERING"),
    ],
)
def test_every_common_schema_is_read(read: Read, schema: str, named: str) -> None:
    from OCP.Interface import Interface_Static
    from OCP.STEPControl import STEPControl_StepModelType, STEPControl_Writer

    writer = STEPControl_Writer()
    before = Interface_Static.CVal_s("write.step.schema")
    Interface_Static.SetCVal_s("write.step.schema", schema)
    try:
        writer.Model(True)
        writer.Transfer(Box(10, 20, 30).wrapped, STEPControl_StepModelType.STEPControl_AsIs)
        stream = io.BytesIO()
        writer.WriteStream(stream)
    finally:
        Interface_Static.SetCVal_s("write.step.schema", before)
    facts = read(stream.getvalue())
    assert facts.schema.startswith(named)
    (part,) = facts.parts
    assert part.volume_mm3 == pytest.approx(6000.0)
    assert not facts.doubts + part.doubts


def test_an_unlikely_size_is_doubted(read: Read, as_step: Callable[..., bytes]) -> None:
    data = as_step(Box(10, 20, 30)).replace(METRE, b"SI_UNIT($,.METRE.)")
    (part,) = read(data).parts
    assert any("unit" in d for d in part.doubts)
    (part,) = read(as_step(Box(10, 20, 30)).replace(METRE, b"SI_UNIT(.MICRO.,.METRE.)")).parts
    assert any("unit" in d for d in part.doubts)


def test_header(read: Read, as_step: Callable[..., bytes]) -> None:
    facts = read(as_step(Box(10, 20, 30)))
    assert facts.schema.startswith("AUTOMOTIVE_DESIGN")
    assert facts.time_stamp == "2026-01-02T03:04:05"
    assert facts.originating_system == "build123d"


@pytest.mark.reference_parts
@pytest.mark.parametrize("number", [1, 2, 3])
def test_ap242_of_nist(read: Read, reference_parts: Path, number: int) -> None:
    # NIST MBE PMI test cases, AP242: one part each, sound, whatever notes hang on it
    (file,) = (reference_parts / "nist-ctc").glob(f"nist_ctc_0{number}_*.stp")
    facts = read(file.read_bytes(), file.name)
    assert facts.schema.startswith("AP242_MANAGED_MODEL_BASED_3D_ENGINEERING")
    (part,) = facts.parts
    assert "Test Case" in part.name
    assert part.solids == part.count == 1
    assert part.closed
    assert not facts.doubts + part.doubts
