"""What the traces mean: readings, ledger, run and verdict. Knows no engine."""
