"""The technician's first page: what to do now, and the way back from a slip."""
