"""Weather in; everything ends in Conditions."""
