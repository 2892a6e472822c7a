"""The plan of a visit: what to measure, ask and photograph, where, and in which order."""
