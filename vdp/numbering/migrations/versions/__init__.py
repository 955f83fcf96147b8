"""How the ledger's tables come to be, version by version (alembic)."""
