"""The configuration `dfmcheck.toml`: read, checked, found, compared, drafted, written."""
