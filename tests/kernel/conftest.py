"""Fixtures for tests that need the geometry kernel."""

import io
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from dfmcheck.kernel.pool import KernelPool
from dfmcheck.model.facts import FileFacts


@pytest.fixture(scope="session")
def kernel_pool() -> Iterator[KernelPool]:
    """A pool of isolated kernel workers."""
    with KernelPool(workers=2, seconds=120) as pool:
        yield pool


@pytest.fixture(scope="session")
def read(kernel_pool: KernelPool) -> Callable[..., FileFacts]:
    """Reads STEP bytes in a worker; the test fails if they are not read."""

    def reading(data: bytes, name: str = "part.step") -> FileFacts:
        answer = kernel_pool.submit(data, name).result()
        assert isinstance(answer, FileFacts), answer
        return answer

    return reading


@pytest.fixture(scope="session")
def as_step() -> Callable[..., bytes]:
    """Writes a shape of build123d as STEP bytes, named if a name is given."""
    from build123d import export_step

    def writing(shape: Any, name: str | None = None) -> bytes:
        if name is not None:
            shape.label = name
        stream = io.BytesIO()
        export_step(shape, stream, timestamp="2026-01-02T03:04:05")
        return stream.getvalue()

    return writing
