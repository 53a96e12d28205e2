"""What the warm path pays for: importing configuration and finding loads no slow library."""

import subprocess
import sys


def test_libraries_that_only_some_runs_need_are_not_imported() -> None:
    code = (
        "import sys\n"
        "import dfmcheck.config.load, dfmcheck.config.find, dfmcheck.config.policy\n"
        "dfmcheck.config.load.parse_settings(b'[limits]\\nsetups = 2', 'dfmcheck.toml')\n"
        "print(sorted({m.partition('.')[0] for m in sys.modules} & {'tomlkit', 'difflib', "
        "'platformdirs', 'jsonschema', 'numpy', 'OCP', 'rich', 'git', 'click', 'hashlib'}))\n"
    )
    ran = subprocess.run(
        [sys.executable, "-I", "-c", code], capture_output=True, text=True, check=True
    )
    assert ran.stdout.strip() == "[]"
