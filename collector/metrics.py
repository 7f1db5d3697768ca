"""Figures for whoever draws curves of the collector: the text format of Prometheus, on this computer alone.

The library `prometheus_client` serves and writes them; here stands what they are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from types import TracebackType
from typing import TYPE_CHECKING

from prometheus_client.core import CollectorRegistry, CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.exposition import start_http_server

from collector.errors import CooldepthError
from collector.intake_round import Counts

if TYPE_CHECKING:
    from collector.advice.views import Health

LOOPBACK = "127.0.0.1"


class Figures:
    """What is told at each asking (a collector of `prometheus_client`)."""

    def __init__(self, counts: Callable[[], Counts], health: Callable[[], Health], free_bytes: Callable[[], int]) -> None:
        """Each is asked when somebody asks for the figures, in another thread than the intake's."""
        self._counts = counts
        self._health = health
        self._free_bytes = free_bytes

    def collect(self) -> Iterator[Metric]:
        """All of them; those of the store are left out where it cannot be asked."""
        counts = self._counts()
        for name, about, value in (
            ("messages", "Messages settled since the start", counts.messages),
            ("messages_again", "Messages that the broker sent again and that were stored before", counts.again),
            ("readings", "Readings stored since the start", counts.readings),
            ("unclaimed", "Measurements of addresses that no probe has, since the start", counts.unclaimed),
        ):
            yield CounterMetricFamily(f"cooldepth_{name}", about, value=value)
        refused = CounterMetricFamily("cooldepth_refused", "Records and messages refused since the start", labels=["why"])
        for why, count in list(counts.refused.items()):
            refused.add_metric([why.value], count)
        yield refused
        try:
            health = self._health()
        except CooldepthError:
            return
        yield GaugeMetricFamily("cooldepth_well", "1 where the collector is up and readings come in", value=float(health.well))
        yield GaugeMetricFamily("cooldepth_queue_depth", "Readings that wait for InfluxDB", value=health.queue_depth)
        if health.last_reading_age_s is not None:
            age = health.last_reading_age_s
            yield GaugeMetricFamily("cooldepth_last_reading_age_seconds", "Since any reading came in", value=age)
        yield GaugeMetricFamily("cooldepth_store_free_bytes", "Room on the disk of the store", value=self._free_bytes())


class MetricsServer:
    """Serves figures at http://127.0.0.1:PORT/metrics as long as it is open. Raises OSError where the port is taken."""

    def __init__(self, figures: Figures, port: int) -> None:
        registry = CollectorRegistry()
        registry.register(figures)
        self._server, self._thread = start_http_server(port, addr=LOOPBACK, registry=registry)

    def close(self) -> None:
        """Stop serving."""
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(5)

    def __enter__(self) -> MetricsServer:
        return self

    def __exit__(self, _kind: type[BaseException] | None, _error: BaseException | None, _trace: TracebackType | None) -> None:
        self.close()
