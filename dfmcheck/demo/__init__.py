"""The demo: an invented git repository of lamp parts that drift over some months."""
