"""The plugin: what the entry point names."""

from collections.abc import Iterable

from dfmcheck.api import (
    Engraving,
    Feature,
    PartFacts,
    Reporter,
    Rule,
    RunReport,
    Series,
    hookimpl,
)
from lamp_rules.cables import cable_hole


@hookimpl
def dfmcheck_rules() -> Iterable[Rule]:
    """The studio's rules."""
    return (cable_hole,)


@hookimpl
def dfmcheck_recognise_features(part: PartFacts) -> Iterable[Feature]:
    """The studio's maker's mark: a sphere of 1 mm. Written before the hook had `known`."""
    for face in part.faces:
        if face.surface == "sphere" and face.radius_mm == 1.0:
            yield Engraving(
                id="engraving-lamp",
                faces=(face.index,),
                place=face.centroid,
                direction=face.normal,
                length_mm=2.0,
                width_mm=2.0,
                depth_mm=1.0,
                narrowest_mm=2.0,
            )


@hookimpl
def dfmcheck_stock_series() -> Iterable[Series]:
    """Left-over brass rod on the studio's shelf."""
    return (
        Series(
            form="round", family="brass", name="studio shelf", sizes_mm=(17.0,), source="counted"
        ),
    )


@hookimpl
def dfmcheck_reporters() -> Iterable[Reporter]:
    """One line for the studio's chat."""
    return (Reporter(name="chat", description="one line for a chat", render=_chat),)


def _chat(report: RunReport) -> str:
    return f"{report.verdict}, {len(report.parts)} parts"
