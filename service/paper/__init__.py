"""Everything that leaves or enters as a file."""
