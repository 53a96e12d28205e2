"""Version of the recognisers, apart from them so that it costs nothing to know."""

FEATURES_VERSION = 1
"""Raised whenever the same facts may give other features; part of the cache key."""
