"""Which configuration governs a file, which entry belongs to a part, which files are looked at."""

from collections import deque
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from typing import TypeVar

from dfmcheck.config.globs import STEP_ENDINGS, compile_patterns
from dfmcheck.config.load import default_settings
from dfmcheck.model.settings import PartEntry, Settings

CONFIG_NAME = "dfmcheck.toml"
"""Name of a configuration, in any folder of the repository."""

Found = TypeVar("Found")


def settings_for(path: str, found: Mapping[str, Settings]) -> Settings:
    """The settings that govern a file: the nearest `dfmcheck.toml` upward, else the defaults.

    Args:
        path: the file's path from the top of the repository.
        found: settings by the paths of their configurations.
    """
    nearest = nearest_config(path, found)
    return found[nearest] if nearest is not None else default_settings()


def nearest_config(path: str, found: Mapping[str, object]) -> str | None:
    """The path of the configuration that governs a file, None where there is none."""
    return next((c for c in configs_upward(path) if c in found), None)


def configs_upward(path: str) -> Iterator[str]:
    """Where a configuration of a file may lie, nearest first."""
    folder = path.rpartition("/")[0]
    while folder:
        yield f"{folder}/{CONFIG_NAME}"
        folder = folder.rpartition("/")[0]
    yield CONFIG_NAME


def entry_for(settings: Settings, file: str, solid: str | None) -> PartEntry | None:
    """The entry of a part, None if it has none.

    An entry that names the solid comes first. An entry without a solid belongs to a file of one
    part; if the file holds several, it belongs to all of them only where it says that they are not
    machined (an assembly that is bought): one number cannot stand for several machined parts.

    Args:
        settings: the settings that govern the file.
        file: path of the STEP file from the top of the repository.
        solid: the part's name where the file holds several parts, else None.
    """
    index = _by_file(settings.parts)
    entries = index.get(file) or index.get(_composed(file), ())
    if solid is not None:
        exact = next((e for e in entries if e.solid == solid), None)
        whole = next((e for e in entries if e.solid is None and e.make != "machined"), None)
        return exact or whole
    alone = next((e for e in entries if e.solid is None), None)
    return alone or (entries[0] if len(entries) == 1 else None)


_Index = dict[str, tuple[PartEntry, ...]]
_indexes: deque[tuple[tuple[PartEntry, ...], _Index]] = deque(maxlen=16)


def _by_file(parts: tuple[PartEntry, ...]) -> _Index:
    """Entries by file; remembered by identity, since hashing thousands of entries takes longer."""
    for known, index in _indexes:
        if known is parts:
            return index
    found: _Index = {}
    for entry in parts:
        found[entry.file] = (*found.get(entry.file, ()), entry)
    _indexes.append((parts, found))
    return found


def _composed(path: str) -> str:
    """A path with composed letters, as editors write them; some file systems take them apart."""
    if path.isascii():
        return path
    from unicodedata import normalize

    return normalize("NFC", path)


def matcher_for(settings: Settings) -> Callable[[str], bool]:
    """A function that tells whether a file is looked at.

    It is if it is a STEP file by its name, `look_at` matches it and `leave_out` does not. Paths
    start at the top of the repository; those outside the policy's folder do not match.
    """
    policy = settings.policy
    return _matcher(policy.look_at, policy.leave_out, policy.folder)


@lru_cache(maxsize=256)
def _matcher(
    look_at: tuple[str, ...], leave_out: tuple[str, ...], folder: str
) -> Callable[[str], bool]:
    wanted = compile_patterns(look_at, folder)
    unwanted = compile_patterns(leave_out, folder)

    def looks_at(path: str) -> bool:
        return path.lower().endswith(STEP_ENDINGS) and wanted(path) and not unwanted(path)

    return looks_at
