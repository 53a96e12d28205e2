"""Neither the version nor the pool imports the kernel."""

import subprocess
import sys
from importlib.metadata import version

from dfmcheck.kernel.version import ANALYSER, kernel_version


def test_version_is_that_of_the_installed_distribution() -> None:
    assert kernel_version() == f"cadquery-ocp-novtk {version('cadquery-ocp-novtk')}"
    assert ANALYSER >= 1


def test_version_and_pool_do_not_import_the_kernel() -> None:
    code = (
        "import sys, dfmcheck.kernel.pool, dfmcheck.kernel.version as v; v.kernel_version();"
        "print([m for m in ('OCP', 'numpy', 'scipy', 'shapely') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
