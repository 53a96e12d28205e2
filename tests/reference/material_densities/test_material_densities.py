"""Densities of the shipped materials against handbooks and data sheets."""

import tomllib
from pathlib import Path

import pytest

from dfmcheck.planning.materials import find_material

ROWS = tomllib.loads((Path(__file__).parent / "densities.toml").read_text("utf-8"))["density"]

SPREAD = 0.015
"""Handbooks differ by about 1 % between each other (stainless 303: 7.9 and 8.0)."""


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['text']}-{r['value']}")
def test_density_and_family(row):
    material = find_material(row["text"])
    assert material is not None
    assert material.family == row["family"]
    assert material.density_g_cm3 == pytest.approx(row["value"], rel=SPREAD)


def test_mass_on_a_production_drawing():
    """Top plate of the Surround 360 rig: 563 540.45 mm3 of MIC 6, 3.4 lb on its drawing.

    Source: FB360_V1_ALL.pdf, (c) Facebook, Inc., CC BY 4.0; the mass is given to 0.1 lb.
    """
    material = find_material("MIC 6")
    assert material is not None
    pounds = 563_540.45e-3 * material.density_g_cm3 / 453.59237
    assert pounds == pytest.approx(3.4, abs=0.05)
