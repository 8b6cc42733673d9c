"""Migrations of the store (Alembic); run by `letterply.storage.database` when it is opened."""
