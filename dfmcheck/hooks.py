"""The hooks that plugins implement, and the marker with which they do.

Values of the model go in, values come out; order of plugins never matters, since results are
sorted by name. A plugin judges only if the configuration's `plugins` names it (the shipped rules
always may). Hooks grow by adding arguments: a plugin takes the ones it knows.
"""

from collections.abc import Iterable

import pluggy

from dfmcheck.model.facts import PartFacts
from dfmcheck.model.feature import Feature
from dfmcheck.model.rule import Reporter, Rule
from dfmcheck.model.stock import ProcessChoice, Series

PROJECT = "dfmcheck"
"""Name of the entry-point group and prefix of the hooks."""

hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


@hookspec
def dfmcheck_rules() -> Iterable[Rule]:
    """Rules to run. Called once a run; the engine sorts, isolates and judges them."""


@hookspec
def dfmcheck_recognise_features(part: PartFacts, known: tuple[Feature, ...]) -> Iterable[Feature]:
    """Further features of a part. Called after the shipped recognisers.

    Faces that belong to a known feature are taken away from it if a plugin claims them.
    The plugin's distribution and version enter the cache key.

    :param part: the facts of one part.
    :param known: the features recognised so far.
    """


@hookspec
def dfmcheck_stock_series() -> Iterable[Series]:
    """Further series of stock sizes, tried beside the shipped catalogue."""


@hookspec(firstresult=True)
def dfmcheck_choose_process(part: PartFacts, features: tuple[Feature, ...]) -> ProcessChoice | None:
    """The process of a part, or None to leave it to other plugins and to the shipped planner.

    Where several plugins choose, the one whose name comes first decides.
    """


@hookspec
def dfmcheck_reporters() -> Iterable[Reporter]:
    """Reporters for `--report NAME=PATH`."""
