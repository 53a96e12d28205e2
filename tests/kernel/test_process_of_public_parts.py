"""Process of the public parts: what their drawings or their makers say."""

import json
import subprocess

import pytest

from dfmcheck.features.recognise import recognise
from dfmcheck.kernel.step import read_step
from dfmcheck.model.feature import Thread
from dfmcheck.planning.process import choose_process
from dfmcheck.planning.stock import choose_stock

pytestmark = pytest.mark.reference_parts

EXPECTED = {"milled": "milled", "turned": "turned", "turned, then": "turned-with-milling"}


def choices_of(path):
    facts = read_step(path.read_bytes(), path.name)
    for part in facts.parts:
        features = recognise(part)
        process = choose_process(part, features)
        stock = choose_stock(part, process, "aluminium", unit=facts.unit)
        assert stock is not None
        assert stock.volume_mm3 > part.volume_mm3
        yield part, features, process, stock


def test_surround_360_as_its_drawings_say(reference_parts):
    folder = reference_parts / "surround360"
    truth = json.loads((folder / "truth_from_drawings.json").read_text("utf-8"))
    for name, said in truth["parts"].items():
        ((_, _, process, stock),) = choices_of(folder / f"{name}.STEP")
        words = said["process"]
        wanted = next(v for k, v in sorted(EXPECTED.items(), reverse=True) if words.startswith(k))
        assert process.process == wanted, f"{name}: {process.reason}"
        if name == "FB360_V1_22":  # 1/4 in plate, drawn 0.25 in thick
            assert (stock.label, stock.skin_kept) == ("plate 1/4 in", True)
        if name == "FB360_V1_28":  # holes on three sides
            assert len(process.setup_directions) == 3


@pytest.mark.parametrize("kind", ["plain", "thread"])
def test_cap_screws_are_turned_and_their_socket_broached(reference_parts, kind):
    truth = json.loads((reference_parts / "generated-fasteners" / "truth.json").read_text("utf-8"))
    paths = sorted((reference_parts / "generated-fasteners").glob(f"shcs_*_{kind}.step"))
    assert paths
    for path in paths:
        ((_, features, process, stock),) = choices_of(path)
        assert process.process == "turned-with-milling"
        assert "hexagon socket" in process.reason
        assert stock.form == "round"
        threads = [f for f in features if isinstance(f, Thread)]
        if kind == "thread":
            size, pitch = truth[path.stem]["size"].lstrip("M").split("-")
            (found,) = threads
            assert found.major_diameter_mm == pytest.approx(float(size), rel=1e-3)
            assert found.pitch_mm == pytest.approx(float(pitch), rel=1e-3)
        else:
            assert threads == []


def test_bearings_are_turned_and_plates_milled(reference_parts):
    folder = reference_parts / "generated-fasteners"
    for path in sorted(folder.glob("bearing_*.step")):
        for part, _, process, _ in choices_of(path):
            assert process.process == "turned", part.name
    for path in sorted(folder.glob("plate_*.step")):
        for _, _, process, stock in choices_of(path):
            assert process.process == "milled"
            assert stock.form in ("plate", "flat")


def test_prismatic_parts_of_the_data_sets_are_milled(reference_parts):
    paths = sorted((reference_parts / "qub-testcases").glob("*.stp"))
    paths += sorted((reference_parts / "mfcad" / "step").glob("*.step"))[::25]
    assert len(paths) > 15
    for path in paths:
        for _, _, process, _ in choices_of(path):
            assert process.process == "milled", path.name


def test_the_keyboard_case_is_milled(reference_parts, tmp_path):
    bundle = reference_parts / "bakeneko-60.bundle"
    clone = tmp_path / "case"
    subprocess.run(["git", "clone", "-q", str(bundle), str(clone)], check=True)
    paths = [p for p in clone.rglob("*") if p.suffix.lower() in (".step", ".stp")]
    assert paths
    for path in paths:
        for part, _, process, _ in choices_of(path):
            assert process.process == "milled", f"{path.name} {part.name}: {process.reason}"
