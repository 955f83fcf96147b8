"""Pieces on the roll: the web, the order of stacks, backs, folds, stock, drawings and the press ticket."""
