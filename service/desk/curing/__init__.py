"""Curing: one queue for the shop, what goes into the water and comes out, what is covered, what is lost."""
