"""Scenarios as a stranger may write them: whatever they are, they end in a run or in a clear error."""
