"""Two revisions of a part: alignment, matched faces and features, named changes, paired parts."""
