"""Results: what a job's readings say, live; and what was issued of it, frozen."""
