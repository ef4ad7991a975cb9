"""Strength along the share of a stabiliser: readings of several shares, one curve through them all."""
