"""The text of STEP files: header, strings, and what is refused before the kernel is asked."""

import pytest

from dfmcheck.errors import NotReadError
from dfmcheck.kernel.part21 import decode_string, prepare, product_names, read_header
from dfmcheck.model.facts import NotRead

WHOLE = b"""ISO-10303-21;
HEADER;
/* written ('by hand') */
FILE_DESCRIPTION((''),'2;1');
FILE_NAME('it''s a name; (really)','2026-01-02T03:04:05',('A. Maker','B'),('Shop'),
  'writer 1.0','CAD 7','');
FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));
ENDSEC;
DATA;
#1=PRODUCT('P-1','L\\X2\\00E4\\X0\\nge','',(#2));
#2=PRODUCT_CONTEXT('',$,'mechanical');
#3=PRODUCT('P-2',$,'',(#2));
ENDSEC;
END-ISO-10303-21;
"""


def refusal(data: bytes) -> NotRead:
    with pytest.raises(NotReadError) as caught:
        prepare(data)
    answer = caught.value.not_read
    assert isinstance(answer, NotRead)
    assert answer.reason
    assert answer.remedy
    return answer


def test_header() -> None:
    header = read_header(prepare(WHOLE))
    assert header.schema == "AUTOMOTIVE_DESIGN"
    assert header.originating_system == "CAD 7"
    assert header.time_stamp == "2026-01-02T03:04:05"


def test_header_without_a_cad_system_names_what_wrote_it() -> None:
    assert read_header(WHOLE.replace(b"'CAD 7'", b"'  '")).originating_system == "writer 1.0"


def test_header_that_says_nothing_is_empty() -> None:
    header = read_header(b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;")
    assert (header.schema, header.originating_system, header.time_stamp) == ("", "", "")


# ISO 10303-21, clause 6.4.3 (string control directives); expected characters from Unicode
@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("plain", "plain"),
        ("it''s", "it's"),
        (r"back\\slash", "back\\slash"),
        (r"L\X2\00E4\X0\nge", "Länge"),
        (r"\X2\65E5672C\X0\!", "日本!"),
        (r"\X2\D83DDE00\X0\ ", "😀 "),
        (r"\X4\0001F600\X0\ ", "😀 "),
        (r"\X\E9t\X\E9", "été"),
        (r"\S\drger", "ärger"),
        (r"\PA\\S\d", "ä"),
    ],
)
def test_strings_are_decoded(written: str, meant: str) -> None:
    assert decode_string(written) == meant


def test_product_names() -> None:
    assert product_names(WHOLE) == {"P-1", "Länge", "P-2", ""}


def test_a_whole_file_passes_unchanged() -> None:
    assert prepare(WHOLE) == WHOLE


def test_byte_order_mark_is_dropped() -> None:
    assert prepare(b"\xef\xbb\xbf" + WHOLE) == WHOLE


def test_names_in_an_old_code_page_become_utf8() -> None:
    data = WHOLE.replace(b"P-2", "Gehäuse".encode("cp1252"))
    assert "Gehäuse" in product_names(prepare(data))


@pytest.mark.parametrize("data", [b"", b"  \n\r\n\t"])
def test_empty(data: bytes) -> None:
    assert refusal(data).kind == "empty"


def test_lfs_pointer() -> None:
    pointer = b"version https://git-lfs.github.com/spec/v1\noid sha256:00\nsize 5\n"
    answer = refusal(pointer)
    assert answer.kind == "lfs-pointer"
    assert "git lfs pull" in answer.remedy


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"PK\x03\x04....", "zip"),
        (b"<?xml version='1.0'?><uos/>", "XML"),
        (b"solid part\nfacet normal 0 0 1\n", "mesh"),
        (b"\xff\xfeI\x00S\x00O\x00", "UTF-16"),
        (b"\x00\x01\x02\x03", "binary"),
        (b"hello", "does not begin"),
    ],
)
def test_what_is_no_step_file_is_named(data: bytes, word: str) -> None:
    answer = refusal(data)
    assert answer.kind == "not-step"
    assert word in answer.reason


def test_cut_short_says_the_line() -> None:
    answer = refusal(WHOLE[: WHOLE.index(b"#2=")])
    assert answer.kind == "damaged"
    assert "line 11 " in answer.reason


def test_conflict_markers() -> None:
    data = WHOLE.replace(b"#2=", b"<<<<<<< HEAD\n#2=")
    answer = refusal(data)
    assert answer.kind == "damaged"
    assert "conflict markers" in answer.reason
