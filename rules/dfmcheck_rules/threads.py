"""Rules about threads, knurls and their callouts: what a STEP file cannot carry."""

import re
from collections.abc import Iterator

from dfmcheck.api import (
    Callout,
    Countersink,
    Feature,
    Hole,
    Knurl,
    Part,
    Remark,
    Thread,
    View,
    callout_targets,
    callouts_of,
    rule,
)
from dfmcheck_rules.tables import Tapped, thread_named, threads_drilled_at
from dfmcheck_rules.words import num, plural, sizes


def callouts(part: Part) -> tuple[Callout, ...]:
    """The callouts of a part's entry."""
    return part.entry.callouts if part.entry else ()


def is_called_out(feature: Feature, part: Part) -> bool:
    """Whether a callout gives the thread, fit or knurl of a feature or of the one it is part of."""
    owner = part.feature(feature.of) if feature.of else None
    said = callouts_of(feature, callouts(part), part.features)
    if owner is not None:
        said += callouts_of(owner, callouts(part), part.features)
    return any(c.thread or c.knurl or c.fit for c in said)


@rule(
    name="modelled-thread",
    title="thread modelled and not called out",
    level="warning",
    looks_at="part",
)
def modelled_thread(view: View) -> Iterator[Remark]:
    """A shop cuts a thread with a tap, a die or a threading tool, never by the model's helix.

    The helix adds hundreds of faces, makes files slow, and carries neither the tolerance class
    nor the depth. The shop must measure it and guess which standard thread is meant. Draw the
    plain hole or shaft and call the thread out, or keep the helix and call it out as well.

    No limit: each modelled thread without a callout is named. Common practice, no source.
    """
    for feature in view.part.features:
        if not isinstance(feature, Thread) or is_called_out(feature, view.part):
            continue
        thread = thread_named(feature.major_diameter_mm, feature.pitch_mm)
        yield Remark(
            message=f"{sizes(feature)} is modelled and not called out; it looks like {thread}",
            cost="the shop guesses the thread and its class, or asks",
            advice=f'call it out: thread = "{thread}", with its depth',
            feature=feature.id,
        )


@rule(
    name="modelled-knurl",
    title="knurl modelled and not called out",
    level="warning",
    looks_at="part",
)
def modelled_knurl(view: View) -> Iterator[Remark]:
    """A knurl is rolled or cut with a wheel whose pattern and pitch are chosen from a list.

    Its faces in the model are never made one by one; milled so, they would cost more than the
    rest of the part. They only slow the file down and hide the blank's diameter, which the shop
    needs. Draw the plain cylinder and call out the pattern and the pitch.

    No limit: each modelled knurl without a callout is named. Common practice, no source.
    """
    for feature in view.part.features:
        if isinstance(feature, Knurl) and not is_called_out(feature, view.part):
            yield Remark(
                message=f"{sizes(feature)} is modelled and not called out",
                cost="the shop guesses pattern and pitch, or asks",
                advice="draw the plain cylinder and call out pattern and pitch",
                feature=feature.id,
            )


@rule(
    name="looks-tapped",
    title="hole looks tapped and is not called out",
    level="note",
    looks_at="part",
)
def looks_tapped(view: View) -> Iterator[Remark]:
    """A STEP file shows a tapped hole as a plain one of the size of the drill used before tapping.

    Without a callout the shop makes a plain hole, and the part comes back without its thread. A
    hole of such a size that is not to be tapped needs no callout; a callout with a fit, or one
    that says so in a note, ends the remark. Counterbored holes and holes with a wide countersink
    take a screw's head and are passed over.

    No limit: holes within 0.02 mm of a tap drill or 0.01 mm of a minor diameter are named. Source:
    ISO 2306 for metric threads, the unified tap drills as tabled in handbooks; the tolerances are
    common practice, no source.
    """
    for hole, found in looking_tapped(view.part):
        names = " or ".join(t.thread for t in found)
        yield Remark(
            message=f"hole dia {num(hole.diameter_mm)} has the size drilled for {names}, and no "
            "callout says whether it is tapped",
            cost="without a callout it comes back plain",
            advice=f'call it out: thread = "{found[0].thread}", or note that it stays plain',
            feature=hole.id,
        )


def looking_tapped(part: Part) -> Iterator[tuple[Hole, tuple[Tapped, ...]]]:
    """Holes of a tapped hole's size that no callout speaks of, with the threads they may be for."""
    threaded = {f.of for f in part.features if isinstance(f, Thread)}
    for hole in part.features:
        if not isinstance(hole, Hole) or hole.form == "counterbored" or hole.id in threaded:
            continue
        if callouts_of(hole, callouts(part), part.features):
            continue
        wide = max((c.diameter_mm for c in _countersinks(part, hole)), default=0.0)
        found = threads_drilled_at(hole.diameter_mm, inch=part.unit == "inch")
        found = tuple(t for t in found if wide <= 1.5 * t.major_mm)
        if found:
            yield hole, found


def _countersinks(part: Part, hole: Hole) -> tuple[Countersink, ...]:
    return tuple(f for f in part.features if isinstance(f, Countersink) and f.of == hole.id)


@rule(
    name="callout-without-sizes",
    title="callout lacks a size",
    level="warning",
    looks_at="part",
)
def callout_without_sizes(view: View) -> Iterator[Remark]:
    """A callout that says "tapped" and not what with leaves the shop where it was.

    A thread needs its designation, in inches with the threads per inch, and in a blind hole its
    depth: how deep the full thread goes, not how deep the drill goes. A knurl needs its pattern
    and pitch.

    No limit: each callout that lacks one of these is named. ISO 6410 on how threads are given.
    """
    part = view.part
    for callout in callouts(part):
        targets = callout_targets(callout, part.features)
        lacks = _lacks(callout, targets)
        if lacks:
            yield Remark(
                message=f"the callout {_named(callout)} lacks {' and '.join(lacks)}",
                cost="the shop asks, or guesses",
                advice="complete the callout in dfmcheck.toml",
                feature=targets[0].id if targets else None,
                signature=_named(callout),
            )


_DESIGNATION = re.compile(r"\d")
_INCH_WITHOUT_PITCH = re.compile(r"#?\d+(/\d+)?\"?")


def _lacks(callout: Callout, targets: tuple[Feature, ...]) -> list[str]:
    lacks = []
    if callout.thread is not None:
        thread = callout.thread.strip()
        if not _DESIGNATION.search(thread):
            lacks.append("the thread's size")
        elif _INCH_WITHOUT_PITCH.fullmatch(thread):
            lacks.append("the kind of thread or its threads per inch")
        blind = any(isinstance(t, Hole) and not t.through for t in targets)
        if blind and callout.depth_mm is None:
            lacks.append("the depth of the thread in a blind hole")
    if callout.knurl is not None and not _DESIGNATION.search(callout.knurl):
        lacks.append("the knurl's pitch")
    return lacks


def _named(callout: Callout) -> str:
    what = callout.thread or callout.knurl or callout.fit or callout.note or "of a size"
    find = callout.find
    size = ""
    if find.diameter_mm is not None:
        size = f" dia {num(find.diameter_mm)}"
    elif find.radius_mm is not None:
        size = f" R{num(find.radius_mm)}"
    return f"'{what}' for {find.kind}{size}"


@rule(
    name="callout-finds-nothing",
    title="callout finds no such feature",
    level="warning",
    looks_at="part",
)
def callout_finds_nothing(view: View) -> Iterator[Remark]:
    """A callout belongs to features that are found by kind, size and place.

    One that finds nothing, or fewer than it counts on, says that the model and the configuration
    no longer agree: a hole was resized, moved or taken out, or the callout has a slip. The shop
    would get a drawing that asks for a thread in a hole that is not there.

    No limit: each callout that finds another number than it counts on is named.
    """
    part = view.part
    for callout in callouts(part):
        targets = callout_targets(callout, part.features)
        wanted = callout.find.count
        if len(targets) == wanted or (wanted is None and targets):
            continue
        found = "nothing" if not targets else f"{len(targets)}"
        counted = "" if wanted is None else f", not {wanted}"
        yield Remark(
            message=f"the callout {_named(callout)} finds {found}{counted}",
            cost="the thread or fit is asked for where it is not, or not asked for",
            advice="mend `find` in the callout, or the model",
            feature=targets[0].id if targets else None,
            signature=_named(callout),
        )


@rule(
    name="thread-appeared",
    title="thread or knurl is now modelled",
    level="note",
    looks_at="change",
)
def thread_appeared(view: View) -> Iterator[Remark]:
    """Modelling a thread or a knurl makes the part no better and the file much heavier.

    The shop cuts threads with a tap or a die and knurls with a wheel, whatever the model shows.
    What it needs is the callout. Hundreds of small faces also hide other changes.

    No limit: each thread or knurl that is newly modelled is named. Common practice, no source.
    """
    for change in view.changes("thread-modelled", "knurl-modelled"):
        feature = view.part.feature(change.feature_after or "")
        text = f"{sizes(feature)} is now modelled" if feature else change.text
        yield Remark(
            message=text,
            cost="a heavy file, and nothing that the shop can use",
            advice="draw the plain cylinder and call the thread or knurl out",
            feature=feature.id if feature else None,
            faces=() if feature else change.faces_after,
        )


@rule(
    name="called-out-feature-vanished",
    title="feature with a callout is gone",
    level="warning",
    looks_at="change",
)
def called_out_feature_vanished(view: View) -> Iterator[Remark]:
    """A feature that carried a thread or a fit has gone, but its callout still stands.

    Either it was taken out by accident, or the callout is left over and will ask the shop for
    something that is not there, or it has come to mean another feature of the same size.

    No limit: each such feature is named.
    """
    former, comparison = view.former, view.comparison
    if former is None or comparison is None:
        return
    lasting = {before for before, _ in comparison.features}
    for callout in callouts(former):
        if callout not in callouts(view.part):
            continue
        gone = [f for f in callout_targets(callout, former.features) if f.id not in lasting]
        if gone:
            count = f"{len(gone)} {plural('feature', len(gone))}"
            yield Remark(
                message=f"{count} of the callout {_named(callout)}: gone ({sizes(gone[0])})",
                cost="the shop is asked for a thread or fit that is not there",
                advice="take the callout out as well, or bring the feature back",
                signature=_named(callout),
            )


RULES = (
    modelled_thread,
    modelled_knurl,
    looks_tapped,
    callout_without_sizes,
    callout_finds_nothing,
    thread_appeared,
    called_out_feature_vanished,
)
