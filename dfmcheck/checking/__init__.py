"""Plugins, rules, limits, permits and the verdict. Values in, values out; no files, no clock."""
