"""mixing."""
