"""Loambook: a soil-testing job for pressed earth blocks, from the sack to the issued result."""
