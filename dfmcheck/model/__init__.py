"""Immutable values that travel between the layers. Imports nothing but msgspec and errors."""
