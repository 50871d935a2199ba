"""inference."""
