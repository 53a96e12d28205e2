"""The use cases: they wire the edges together and decide nothing themselves."""
