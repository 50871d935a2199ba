"""Alembic migrations of the store, packaged so that an installed house can mend its own file."""
