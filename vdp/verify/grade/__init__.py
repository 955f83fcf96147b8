"""Symbols as a press would print them, graded: a prediction, not a verifier's grade."""
