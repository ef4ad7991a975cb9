"""One block: what it measures, when it is due, in which state it is tested."""
