"""clock."""
