"""Reports for people and for machines. Reporters render; they decide nothing."""
