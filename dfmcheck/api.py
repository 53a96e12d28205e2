"""The facade: the only module that plugins import.

Everything here is public and kept stable; everything else may change.
"""

from dfmcheck.hooks import hookimpl
from dfmcheck.model.base import Value, Vec
from dfmcheck.model.callouts import callout_targets, callouts_of, kind_of
from dfmcheck.model.change import Change, Comparison, Motion
from dfmcheck.model.facts import Edge, Face, FileFacts, Frame, PartFacts, TurningFacts
from dfmcheck.model.feature import (
    Boss,
    Chamfer,
    Counterbore,
    Countersink,
    Engraving,
    Feature,
    Fillet,
    Freeform,
    Groove,
    Hole,
    Knurl,
    Pocket,
    Slot,
    Step,
    Thread,
)
from dfmcheck.model.finding import Finding, Limit, Remark
from dfmcheck.model.part import Part
from dfmcheck.model.report import PartReport, RunReport
from dfmcheck.model.rule import Reporter, Rule, View, rule
from dfmcheck.model.settings import Callout, LimitValue, PartEntry, Permit, Settings
from dfmcheck.model.stock import ProcessChoice, Series, Stock

__all__ = [
    "Boss", "Callout", "Chamfer", "Change", "Comparison", "Counterbore", "Countersink", "Edge",
    "Engraving", "Face", "Feature", "FileFacts", "Fillet", "Finding", "Frame", "Freeform",
    "Groove", "Hole", "Knurl", "Limit", "LimitValue", "Motion", "Part", "PartEntry",
    "PartFacts", "PartReport", "Permit", "Pocket", "ProcessChoice", "Remark", "Reporter",
    "Rule", "RunReport", "Series", "Settings", "Slot", "Step", "Stock", "Thread",
    "TurningFacts", "Value", "Vec", "View", "callout_targets", "callouts_of", "hookimpl",
    "kind_of", "rule",
]  # fmt: skip
