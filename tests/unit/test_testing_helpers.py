"""The public helpers for writers of rules do what their docstrings say."""

from collections.abc import Iterator

import pytest

from dfmcheck.api import Remark, View, rule
from dfmcheck.errors import PluginError
from dfmcheck.model.callouts import kind_of
from dfmcheck.testing import make_feature, make_part, run_rule
from dfmcheck_rules.holes import deep_hole

KINDS = (
    "hole", "counterbore", "countersink", "pocket", "slot", "step", "boss", "groove", "fillet",
    "chamfer", "freeform", "thread", "knurl", "engraving",
)  # fmt: skip


def test_one_rule_is_run_as_in_the_docstring() -> None:
    part = make_part(make_feature("hole", diameter_mm=3.0, depth_mm=40.0))
    (finding,) = run_rule(deep_hole, part)
    assert finding.rule == "deep-hole"


@pytest.mark.parametrize("kind", KINDS)
def test_a_feature_of_each_kind_can_be_made_and_gets_an_id_and_a_face(kind: str) -> None:
    part = make_part(make_feature(kind), make_feature(kind))
    assert [kind_of(f) for f in part.features] == [kind, kind]
    assert [f.id for f in part.features] == [f"{kind}-1", f"{kind}-2"]
    assert [f.faces for f in part.features] == [(0,), (1,)]


def test_what_is_no_kind_or_no_size_is_refused() -> None:
    with pytest.raises(KeyError):
        make_feature("dimple")
    with pytest.raises(TypeError):
        make_feature("hole", width_mm=3.0)


def test_a_rule_that_fails_is_no_silent_pass() -> None:
    @rule(name="fails", title="t", level="note", looks_at="part")
    def fails(view: View) -> Iterator[Remark]:
        """Fails."""
        yield from view.part.nothing  # type: ignore[attr-defined]

    with pytest.raises(PluginError, match="raised AttributeError"):
        run_rule(fails, make_part())
