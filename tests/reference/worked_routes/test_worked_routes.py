"""Stock of the three parts whose routes were worked by hand, with masses in grams.

A: brass pin, head 10 x 4 in its drawn skin, shank 6 x 26: bar 10 x 32.5, 21.6 g.
B: bracket 60 x 40 x 15 of 6082, all faces machined: blank 66 x 46 x 20, 164 g.
C: 6082, head 24 x 22, shank 12 x 18, faced at the back: bar 25 x 44, 58.3 g.
"""

import pytest
from builders import make_facts, make_process
from msgspec.structs import replace
from shafts import shaft

from dfmcheck.planning.materials import find_material
from dfmcheck.planning.process import choose_process
from dfmcheck.planning.stock import choose_stock


def grams(stock, text):
    material = find_material(text)
    assert material is not None
    return stock.volume_mm3 * material.density_g_cm3 / 1000.0


def test_brass_pin():
    part = shaft((10.0, 4.0), (6.0, 26.0))
    stock = choose_stock(part, choose_process(part, ()), "brass")
    assert stock is not None
    assert (stock.label, stock.skin_kept) == ("round 10", True)
    assert stock.length_mm == pytest.approx(32.5)
    assert grams(stock, "CW614N") == pytest.approx(21.6, abs=0.05)


def test_bracket():
    process = replace(make_process("milled"), setup_directions=((0.0, 0.0, 1.0), (0.0, 0.0, -1.0)))
    stock = choose_stock(make_facts(), process, "aluminium")
    assert stock is not None
    assert (stock.form, stock.length_mm, stock.section_mm) == ("plate", 66.0, (46.0, 20.0))
    assert grams(stock, "6082") == pytest.approx(164.0, abs=0.5)


def test_turned_part_with_flats():
    part = shaft((24.0, 22.0), (12.0, 18.0))
    stock = choose_stock(part, choose_process(part, ()), "aluminium")
    assert stock is not None
    assert stock.label == "round 25"
    assert stock.length_mm == pytest.approx(44.0)
    assert grams(stock, "6082") == pytest.approx(58.3, abs=0.05)
