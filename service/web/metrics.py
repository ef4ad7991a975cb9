"""Counts for a monitor, in Prometheus text; each application has its own."""

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest

MEDIA_TYPE = "text/plain; version=0.0.4; charset=utf-8"
SECONDS = (0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)


class Counts:
    """How many requests were answered how fast, and how old the records' safeguards are."""

    def __init__(self) -> None:
        self._registry = CollectorRegistry()
        self._requests = Counter(
            "loambook_requests", "Requests answered.", ("method", "route", "status"), registry=self._registry
        )
        self._seconds = Histogram(
            "loambook_request_seconds", "Time to answer.", ("route",), buckets=SECONDS, registry=self._registry
        )
        self._trail = Gauge("loambook_trail_entries", "Entries of the log.", registry=self._registry)
        self._archive = Gauge(
            "loambook_archive_age_seconds",
            "Age of the last good archive; NaN before the first.",
            registry=self._registry,
        )

    def note(self, method: str, route: str, status: int, seconds: float) -> None:
        """Count one answer."""
        self._requests.labels(method, route, str(status)).inc()
        self._seconds.labels(route).observe(seconds)

    def text(self, *, trail_entries: int, archive_age_s: float | None) -> bytes:
        """Return everything counted so far."""
        self._trail.set(trail_entries)
        self._archive.set(float("nan") if archive_age_s is None else archive_age_s)
        return generate_latest(self._registry)
