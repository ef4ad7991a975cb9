"""Crushing: which block is next, the press and its zero, the reading and its corrections, and a block's whole story."""
