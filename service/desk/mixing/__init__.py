"""Mixing and pressing: what to weigh, what was weighed, the trial block, then every block in turn."""
