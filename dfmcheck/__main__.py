"""`python -m dfmcheck`.

With `-m` Python looks for every module in the working folder first. That folder may be the
repository under test, of which nothing is executed, so it is taken off the search path.
"""

import sys

if not sys.flags.safe_path:
    del sys.path[0]

from dfmcheck.cli.main import main

if __name__ == "__main__":
    main()
