"""What has been computed before, by content."""
