"""Fields and schemas that several operations share."""
