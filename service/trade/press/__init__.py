"""From a gauge to the stress on a block, and how fast to load."""
