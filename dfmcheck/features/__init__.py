"""Feature recognition: from the facts of a part to features. Pure: no kernel, files or clock."""
