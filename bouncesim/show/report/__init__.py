"""The report of a station: one page that needs nothing else to be read, the same in Markdown, and its numbers as data."""
