"""The tables, each subject with all its queries."""
