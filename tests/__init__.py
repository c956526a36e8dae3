"""The tests: what a figure is checked against stands beside it."""
