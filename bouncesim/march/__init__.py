"""The time domain: leapfrog lines, implicit-midpoint networks, an energy ledger that is always on."""
