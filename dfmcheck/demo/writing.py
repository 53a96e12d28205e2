"""A drawing as the bytes of a STEP file (AP214, mm), the same at every run."""

import io
import re
from typing import Any

from dfmcheck.demo.parts import Drawing
from dfmcheck.errors import DfmcheckError

MARK = "invented for the demo of dfmcheck"


def step_bytes(drawing: Drawing, name: str, day: str, *, exporter: str = "drawn") -> bytes:
    """The STEP file of a drawing.

    Args:
        drawing: what to draw.
        name: of the product.
        day: ISO date for the header's time stamp.
        exporter: text for the header's originating system; another one stands for another
            program, which also numbers its entities otherwise.
    """
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.Interface import Interface_Static
    from OCP.Message import Message
    from OCP.STEPControl import STEPControl_StepModelType, STEPControl_Writer

    Message.DefaultMessenger_s().ChangePrinters().Clear()
    writer = STEPControl_Writer()
    Interface_Static.SetCVal_s("write.step.schema", "AP214IS")
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    Interface_Static.SetIVal_s("write.surfacecurve.mode", 0)
    done = writer.Transfer(drawing.shape(), STEPControl_StepModelType.STEPControl_AsIs)
    _name_product(writer.Model(), name)
    _set_header(writer.Model(), name, day, exporter)
    out = io.BytesIO()
    if done == IFSelect_ReturnStatus.IFSelect_RetDone:
        done = writer.WriteStream(out)
    if done != IFSelect_ReturnStatus.IFSelect_RetDone:
        msg = f"the demo part {name} could not be written by the geometry kernel"
        raise DfmcheckError(msg)
    data = out.getvalue()
    return data if exporter == "drawn" else renumbered(data, 1000)


def _name_product(model: Any, name: str) -> None:
    """Name the product; the kernel's own name carries a number that counts exports."""
    from OCP.StepBasic import StepBasic_Product
    from OCP.TCollection import TCollection_HAsciiString

    for i in range(1, model.NbEntities() + 1):
        entity = model.Value(i)
        if isinstance(entity, StepBasic_Product):
            entity.SetId(TCollection_HAsciiString(name))
            entity.SetName(TCollection_HAsciiString(name))


def _set_header(model: Any, name: str, day: str, exporter: str) -> None:
    from OCP.APIHeaderSection import APIHeaderSection_MakeHeader
    from OCP.TCollection import TCollection_HAsciiString

    def text(value: str) -> TCollection_HAsciiString:
        return TCollection_HAsciiString(value)

    header = APIHeaderSection_MakeHeader(model)
    header.SetName(text(name))
    header.SetTimeStamp(text(f"{day}T12:00:00"))
    header.SetAuthorValue(1, text(MARK))
    header.SetOrganizationValue(1, text(MARK))
    header.SetPreprocessorVersion(text("dfmcheck demo"))
    header.SetOriginatingSystem(text(exporter))
    header.SetAuthorisation(text(MARK))
    header.SetDescriptionValue(1, text(MARK))


def renumbered(data: bytes, by: int) -> bytes:
    """The same file with other entity numbers, as a second export would have them."""
    return re.sub(rb"#(\d+)", lambda m: b"#%d" % (int(m.group(1)) + by), data)
