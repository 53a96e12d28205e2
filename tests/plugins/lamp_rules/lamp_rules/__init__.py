"""House rules of an invented desk lamp studio."""
