"""Mechanics and geometry shared by the checks: pure functions on arrays, SI, numpy only."""
