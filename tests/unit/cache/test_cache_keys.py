"""Keys of the cache: everything that decides a value decides its key, and nothing runs together."""

from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dfmcheck.cache.keys import derived_key, facts_key

BASE = {
    "kernel": "8.0.1", "analyser": 3, "mesh": (("angle_rad", 0.3), ("deflection_mm", 0.01)),
    "recognisers": ("lamp-rules 1.0", "other 2"),
}  # fmt: skip


def test_each_part_of_a_key_counts() -> None:
    keys = {
        facts_key("git:abc", **BASE),
        facts_key("git:abd", **BASE),
        facts_key("sha256:abc", **BASE),
        facts_key("git:abc", **BASE | {"kernel": "8.0.2"}),
        facts_key("git:abc", **BASE | {"analyser": 4}),
        facts_key("git:abc", **BASE | {"mesh": (("angle_rad", 0.3), ("deflection_mm", 0.011))}),
        facts_key("git:abc", **BASE | {"mesh": (("angle_rad", 0.3),)}),
        facts_key("git:abc", **BASE | {"mesh": ()}),
        facts_key("git:abc", **BASE | {"recognisers": ("lamp-rules 1.1", "other 2")}),
        facts_key("git:abc", **BASE | {"recognisers": ()}),
    }
    assert len(keys) == 10
    assert all(len(k) == 64 and set(k) <= set("0123456789abcdef") for k in keys)


def test_order_does_not_count() -> None:
    turned = {n: v[::-1] if isinstance(v, tuple) else v for n, v in BASE.items()}
    assert facts_key("git:abc", **turned) == facts_key("git:abc", **BASE)
    assert derived_key("k", "s", 1, ["b", "a"]) == derived_key("k", "s", 1, ["a", "b"])


def test_a_key_is_the_digest_of_its_parts_with_their_lengths() -> None:
    # Spelt out: a changed layout throws every user's cache away, which is done on purpose only.
    parts = b"[1]10:dfmcheck 1[4]5:facts7:git:abc1:81:1[1]22:a=0x1.8000000000000p+0[1]5:x 1.0"
    assert (
        facts_key("git:abc", kernel="8", analyser=1, mesh=[("a", 1.5)], recognisers=["x 1.0"])
        == sha256(parts).hexdigest()
    )


@pytest.mark.parametrize("content", ["", "abc", ":abc", "git:"])
def test_a_content_without_a_digest_is_refused(content: str) -> None:
    with pytest.raises(ValueError, match="a scheme and a digest"):
        facts_key(content, kernel="8", analyser=1)


_text = st.text(max_size=6)
_input = st.tuples(_text, _text, st.integers(0, 9), st.lists(_text, max_size=3).map(sorted))


@given(_input, _input)
def test_different_inputs_have_different_keys(
    a: tuple[str, str, int, list[str]], b: tuple[str, str, int, list[str]]
) -> None:
    assert (derived_key(*a) == derived_key(*b)) == (a == b)


def test_names_that_are_no_unicode_have_keys() -> None:
    assert derived_key("k", "s", 1, ["\udcff"]) != derived_key("k", "s", 1, ["?"])
