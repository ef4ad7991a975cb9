"""The strength model of docs/model.md: fit a job once, then ask."""
