"""What has to be ordered."""
