"""Overlapping solids fused into one by the kernel's Boolean union, where that is soon done.

The union may take long, fail or crash, so it is tried in a process of its own with little time.
Where it gives no sound solid, the solids stay together as they are.
"""

import io
import os
import selectors
import signal
import struct
import time
from contextlib import suppress
from typing import Any

from OCP.BinTools import BinTools
from OCP.BRepAlgoAPI import BRepAlgoAPI_Fuse
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.collections import IndexedMap_TopoDS_Shape_TopTools_ShapeMapHasher as ShapeMap
from OCP.collections import List_TopoDS_Shape
from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain
from OCP.TopAbs import TopAbs_ShapeEnum as T
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS_Shape

from dfmcheck.kernel import limits
from dfmcheck.kernel.products import faces_of, solids_of

MOST_SOLIDS = 8
MOST_FACES = 250
SECONDS = 5.0

_COUNT = struct.Struct("<I")


def fused(solids: list[Any]) -> tuple[Any, list[int]] | None:
    """One solid that fills what all of them fill.

    Args:
        solids: overlapping kernel solids.

    Returns:
        The solid, and for each of its faces the number of the face it came from, counted
        through the solids; None where it is not to be had.
    """
    if len(solids) > MOST_SOLIDS or sum(len(faces_of(s)) for s in solids) > MOST_FACES:
        return None
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        try:
            os.close(reading)
            limits.die_with_parent()
            _fuse(solids, writing)
        finally:
            os._exit(0)
    os.close(writing)
    try:
        data = _read(reading, SECONDS)
    finally:
        os.close(reading)
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
    return None if data is None else _unpack(data)


def _read(descriptor: int, seconds: float) -> bytes | None:
    """All that comes through a pipe until it is closed; None if that takes too long."""
    until = time.monotonic() + seconds
    chunks: list[bytes] = []
    with selectors.DefaultSelector() as selector:
        selector.register(descriptor, selectors.EVENT_READ)
        while selector.select(max(0.0, until - time.monotonic())):
            chunk = os.read(descriptor, 1 << 20)
            if not chunk:
                return b"".join(chunks)
            chunks.append(chunk)
    return None


def _fuse(solids: list[Any], writing: int) -> None:
    """In a process of its own: fuse and send the result."""
    first, others = List_TopoDS_Shape(), List_TopoDS_Shape()
    first.Append(solids[0])
    for solid in solids[1:]:
        others.Append(solid)
    union = BRepAlgoAPI_Fuse()
    union.SetArguments(first)
    union.SetTools(others)
    union.Build()
    if not union.IsDone():
        return
    unify = ShapeUpgrade_UnifySameDomain(union.Shape(), True, True, False)
    unify.Build()
    found = solids_of(unify.Shape())
    if len(found) != 1 or not BRepCheck_Analyzer(found[0]).IsValid():
        return
    origins = _origins(solids, union, unify, found[0])
    stream = io.BytesIO()
    BinTools.Write_s(found[0], stream)
    packed = struct.pack(f"<{len(origins)}i", *origins)
    data = _COUNT.pack(len(origins)) + packed + stream.getvalue()
    with os.fdopen(writing, "wb") as pipe:
        pipe.write(data)


def _origins(solids: list[Any], union: Any, unify: Any, result: Any) -> list[int]:
    """For each face of the result the number of a face that it came from, -1 if none is known."""
    faces = ShapeMap()
    TopExp.MapShapes_s(result, T.TopAbs_FACE, faces)
    origins = [-1] * faces.Extent()
    number = 0
    for solid in solids:
        for face in faces_of(solid):
            for image in _images(union, face):
                for last in _images(unify.History(), image):
                    at = faces.FindIndex(last)
                    if at > 0 and origins[at - 1] < 0:
                        origins[at - 1] = number
            number += 1
    return origins


def _images(history: Any, face: Any) -> list[Any]:
    """What became of a face: itself if it was left alone."""
    try:
        found = list(history.Modified(face))
    except RuntimeError:
        return [face]
    return found or [face]


def _unpack(data: bytes) -> tuple[Any, list[int]] | None:
    if len(data) < _COUNT.size:
        return None
    (count,) = _COUNT.unpack_from(data)
    start = _COUNT.size + 4 * count
    if len(data) <= start:
        return None
    origins = list(struct.unpack_from(f"<{count}i", data, _COUNT.size))
    shape = TopoDS_Shape()
    BinTools.Read_s(shape, io.BytesIO(data[start:]))
    solids = solids_of(shape)
    if len(solids) != 1 or len(faces_of(solids[0])) != count:
        return None
    return solids[0], origins
