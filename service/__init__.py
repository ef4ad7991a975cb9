"""Loambook: a soil-testing job for pressed earth blocks, from the sack to the issued result."""

import os

__version__ = "0.2.0"

# The grids of the strength engine are too small for a sum to gain from several threads, and threads that wait
# for each other slow a busy shop down; it must stand before the first import of numpy.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
