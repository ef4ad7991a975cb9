"""HTTP only: pages for people and an API for programs."""
