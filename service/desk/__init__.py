"""The use cases: every one passes the doorway."""
