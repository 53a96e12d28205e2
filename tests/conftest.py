"""Fixtures shared by all tests."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

# machines are shared: how long one example takes says nothing
settings.register_profile("shared", deadline=None)
settings.load_profile("shared")


@pytest.fixture(scope="session")
def reference_parts() -> Path:
    """Folder of the public STEP files; the test is skipped where it is not at hand."""
    value = os.environ.get("DFMCHECK_REFERENCE_PARTS", "")
    if not value:
        pytest.skip("DFMCHECK_REFERENCE_PARTS is not set: the public STEP files are not at hand")
    folder = Path(value)
    if not folder.is_dir():
        pytest.fail(f"DFMCHECK_REFERENCE_PARTS names {value}, which is not a folder")
    return folder
