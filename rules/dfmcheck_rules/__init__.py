"""The shipped rules."""
