"""The trade's computations: pure functions on exact amounts, each citing its source."""
