"""What past jobs show of level, scatter, spread and mixes: each looked at alone, then weighed together."""
