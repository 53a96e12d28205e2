"""`python -m dfmcheck`."""

from dfmcheck.cli.main import main

if __name__ == "__main__":
    main()
