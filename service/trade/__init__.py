"""The arithmetic of the trade: pure functions in fixed units, each with its source."""
