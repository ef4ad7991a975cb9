"""Worked calculations: one strict model and one call for each, usable without a shop."""
