"""STEP bytes to the facts of a file. Runs in a worker: the kernel may crash on a bad file."""

import io
from pathlib import PurePosixPath
from typing import Any

from OCP.collections import Sequence_TCollection_AsciiString
from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDocStd import TDocStd_Document

from dfmcheck.errors import NotReadError
from dfmcheck.kernel import part21, trust
from dfmcheck.kernel.bodies import Body, bodies
from dfmcheck.kernel.entities import Entities
from dfmcheck.kernel.equal import equal_counted
from dfmcheck.kernel.facts import part_facts, rough_diagonal
from dfmcheck.kernel.fusing import fused
from dfmcheck.kernel.network import Network
from dfmcheck.kernel.products import faces_of, product_tree, solids_of
from dfmcheck.kernel.units import unit_doubts, unit_name
from dfmcheck.kernel.wire import Mark
from dfmcheck.model.facts import FileFacts, NotRead, PartFacts


def _ignore(stage: int, note: str = "") -> None:
    del stage, note


def prepare() -> None:
    """Do once, before workers are forked, what the first reading would do."""
    STEPCAFControl_Reader()


def read_step(data: bytes, name: str, mark: Mark = _ignore) -> FileFacts:
    """Everything the kernel measures in one STEP file.

    Args:
        data: the bytes of the file.
        name: the file's name: a nameless product is called after it.
        mark: told the number of each stage of `dfmcheck.kernel.wire.STAGES` as it begins.

    Raises:
        NotReadError: the file was not read; its answer says why.
    """
    data = part21.prepare(data)
    header = part21.read_header(data)
    network = Network(data)
    doubts = trust.text_doubts(network) + unit_doubts(data)
    mark(1, "; ".join(doubts))
    reader = _load(data)
    units = _units(reader.Reader())
    session, model = reader.Reader().WS(), reader.Reader().StepModel()
    doubts += trust.load_doubts(session.ModelCheckList(False), network, model)
    mark(2, "; ".join(doubts))
    document = TDocStd_Document(TCollection_ExtendedString("dfmcheck"))
    if not reader.Transfer(document):
        raise _no_solid("it holds no shape", doubts)
    doubts += trust.transfer_doubts(session.TransferReader().LastCheckList())
    mark(3, "; ".join(doubts))
    tree = product_tree(document, part21.product_names(data))
    if not any(solids_of(p.shape) for p in tree.products.values()):
        faces = sum(len(faces_of(p.shape)) for p in tree.products.values())
        what = f"it holds {faces} faces but no closed solid" if faces else "it holds no solid"
        raise _no_solid(what, doubts)
    if not units:
        doubts.append("it declares no unit of length; millimetres were taken")
    mark(4, "; ".join(doubts))
    entities = Entities(data, reader.Reader())
    found = bodies(tree, entities, PurePosixPath(name).stem)
    parts = equal_counted([_facts(body) for body in found])
    return FileFacts(
        schema=header.schema,
        unit=units[0] if units else "",
        units=units,
        originating_system=header.originating_system,
        time_stamp=header.time_stamp,
        parts=parts,
        doubts=tuple(doubts),
    )


def _load(data: bytes) -> Any:
    reader = STEPCAFControl_Reader()
    for switch in (
        reader.SetColorMode,
        reader.SetLayerMode,
        reader.SetPropsMode,
        reader.SetGDTMode,
        reader.SetMatMode,
        reader.SetSHUOMode,
    ):
        switch(False)
    reader.SetNameMode(True)
    status = reader.ReadStream("dfmcheck", io.BytesIO(data))
    if status != IFSelect_ReturnStatus.IFSelect_RetDone:
        answer = NotRead(
            kind="damaged",
            reason="its text breaks the rules of ISO 10303-21, and the kernel gave up on it",
            remedy="fetch or export the file again",
        )
        raise NotReadError(answer)
    return reader


def _units(reader: Any) -> tuple[str, ...]:
    lengths, angles, solid_angles = (Sequence_TCollection_AsciiString() for _ in range(3))
    reader.FileUnits(lengths, angles, solid_angles)
    found = [str(lengths.Value(i).ToCString()) for i in range(1, lengths.Length() + 1)]
    return tuple(dict.fromkeys(unit_name(u) for u in found))


def _no_solid(reason: str, doubts: list[str]) -> NotReadError:
    if doubts:
        answer = NotRead(
            kind="damaged",
            reason=f"no solid can be built from it: {'; '.join(doubts)}",
            remedy="fetch or export the file again",
        )
        return NotReadError(answer)
    remedy = "export the part as a closed solid; surfaces must be joined into one"
    return NotReadError(NotRead(kind="no-solid", reason=reason, remedy=remedy))


def _facts(body: Body) -> PartFacts:
    doubts = [
        *trust.solid_doubts(body.solids, rough_diagonal(body.shape)),
        *trust.lost_face_doubts(body.listed, len(body.lines) or body.listed),
    ]
    shape, lines = body.shape, body.lines
    one = fused(list(body.solids)) if len(body.solids) > 1 else None
    if one is not None:
        shape, lines = one[0], [lines[k] if k >= 0 else None for k in one[1]]
    return part_facts(
        shape,
        name=body.name,
        count=body.count,
        solids=max(1, len(body.solids)),
        overlapping=len(body.solids) > 1 and one is None,
        closed=bool(body.solids),
        doubts=tuple(doubts),
        lines={i: line for i, line in enumerate(lines) if line is not None},
    )
