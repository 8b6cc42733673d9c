"""Migrations of the store (Alembic); run by `letterply.orders.database` when it is opened."""
