"""The machinery of the strength engine: grids and sums over the posterior that `strength` alone calls."""
