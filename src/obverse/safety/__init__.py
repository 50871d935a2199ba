"""safety."""
