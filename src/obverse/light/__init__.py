"""light."""
