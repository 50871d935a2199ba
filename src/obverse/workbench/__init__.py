"""workbench."""
