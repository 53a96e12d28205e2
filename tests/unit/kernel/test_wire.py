"""What pool, server and workers say to each other arrives as it was sent."""

import pytest

from dfmcheck.kernel import wire
from dfmcheck.model.facts import NotRead

ANSWER = NotRead(kind="empty", reason="the file is empty", remedy="export it again")


@pytest.mark.parametrize("name", ["part.step", "Teil 1 – größer.step", "\udcff.step", ""])
def test_a_job_arrives_whole(name: str) -> None:
    data = bytes(range(256)) * 5
    assert wire.read_job(wire.job_file(data, name)) == (data, name)


def test_an_answer_arrives_before_the_ending() -> None:
    ending = wire.Ending(status=9, killed="timeout", stage=2, note="#7", text="printed")
    stream = wire.pack_answer(ANSWER) + wire.pack_ending(ending)
    split = wire.split_ending(stream)
    assert split is not None
    assert wire.unpack_answer(split[0]) == ANSWER
    assert split[1] == ending


def test_half_an_answer_is_none() -> None:
    assert wire.unpack_answer(wire.pack_answer(ANSWER)[:-3]) is None
    assert wire.unpack_answer(b"") is None
    assert wire.unpack_answer(b"garbage") is None


@pytest.mark.parametrize("stream", [b"", b"x", b"\xff\xff\xff\xff", b"abc\x02\x00\x00\x00"])
def test_without_an_ending_the_server_is_lost(stream: bytes) -> None:
    assert wire.split_ending(stream) is None


def test_progress_keeps_the_last_mark() -> None:
    progress = wire.Progress()
    progress.mark(2, "it refers to nothing – ä")
    assert progress.read() == (2, "it refers to nothing – ä")
    progress.mark(3)
    assert progress.read() == (3, "")
    progress.mark(4, "x" * 5000)
    assert progress.read()[0] == 4
    progress.close()
