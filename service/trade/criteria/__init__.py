"""Codes and rules: what each asks, of which test, from which source."""
