"""Live demonstrations: where an effect shows best, what the meters will show, and what readings say about a station."""
