"""The pages, one module a stage."""
