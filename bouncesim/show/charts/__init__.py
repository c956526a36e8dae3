"""Stills: one module a kind, each drawn from a finished run. The names of the kinds stand in `kinds`, which loads nothing."""
