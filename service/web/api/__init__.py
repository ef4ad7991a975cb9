"""The JSON API, twins of the pages."""
