import re

from dfmcheck.comparing.kinds import KINDS, inverse


def test_the_inverse_of_the_inverse_is_the_kind_itself():
    for name, kind in KINDS.items():
        assert kind.name == name
        assert inverse(inverse(name)) == name
        assert KINDS[kind.inverse].quantity == kind.quantity
        assert KINDS[kind.inverse].unit == kind.unit


def test_kinds_are_plain_hyphenated_words():
    for name, kind in KINDS.items():
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", name)
        assert kind.words
        assert kind.quantity
        assert kind.unit in {"", "mm", "mm2", "mm3", "g", "deg"}
