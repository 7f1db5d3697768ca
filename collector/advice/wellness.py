"""How the collector is: does it run, do readings come in, what troubles it."""

from __future__ import annotations

from collector.advice.heard import SILENT_LEAST_MS, SILENT_READINGS, behind_words, pace_ms
from collector.advice.state import HOUR_MS, MINUTE_MS
from collector.advice.views import Health
from collector.advice.voice import voice_of
from collector.calls import Report
from collector.errors import StoreBusyError
from collector.model import Garden
from collector.ports import Clock, CountedReadings, ReportedSeason

# The collector reports every few seconds of the machine's time. It is missed when its report is
# older than this by the garden's clock and has stood so long by the machine's (a simulated
# garden's clock runs faster, so that every report is soon old by it).
REPORT_PATIENCE_MS, REPORT_STANDS_S = 2 * MINUTE_MS, 60.0


class Wellness:
    """Asks the stores how the collector of a garden is. Any thread may ask; what the stores raise is raised on."""

    def __init__(
        self, garden: Garden, readings: CountedReadings, season: ReportedSeason, clock: Clock, stands_s: float = REPORT_STANDS_S
    ) -> None:
        """It opens nothing: the stores are the caller's to close. Who asks but once gives 0 for `stands_s`."""
        self._garden = garden
        self._readings = readings
        self._season = season
        self._clock = clock
        self._stands_s = stands_s
        self._voice = voice_of(garden)
        self._report: Report | None = None
        self._report_since_s = 0.0

    def health(self) -> Health:
        """How the collector is."""
        now_ms = self._clock.now_ms()
        counts, trouble, up = self._readings.counts(), *self.of_collector(now_ms)
        received_ms = counts.last_received_ms
        try:
            silent = received_ms is None or self._silent_since(received_ms, now_ms)
            behind = behind_words(self._readings.latest().values(), now_ms, self._voice)
        except StoreBusyError:  # away, as the troubles tell: so the usual pace is not known, and an hour is long
            silent, behind = received_ms is None or now_ms - received_ms > SILENT_LEAST_MS, None
        sentences = list(trouble)
        if received_ms is None:
            sentences.append("No reading has come in yet.")
        elif silent:
            sentences.append(f"No reading has come in since {self._voice.when(received_ms, now_ms)}.")
        elif behind is not None:
            sentences.append(behind)
        return Health(
            status=" ".join(sentences) or "Readings come in.",
            well=up and not silent,
            last_reading_age_s=None if received_ms is None else max(0.0, (now_ms - received_ms) / 1000),
            queue_depth=counts.waiting,
            refused_total=counts.refused,
            refused_kept=counts.refused_kept,
            unclaimed_kept=counts.unclaimed,
        )

    def _silent_since(self, received_ms: int, now_ms: int) -> bool:
        """True where no reading has come for so long that the garden is silent, by the pace of its quickest probe."""
        silence_ms = now_ms - received_ms
        if silence_ms <= SILENT_LEAST_MS:
            return False
        from_ms = received_ms - SILENT_READINGS * HOUR_MS
        paces_ms = [pace_ms(self._readings.series(probe.id, from_ms, now_ms + 1)) for probe in self._garden.probes]
        return silence_ms > SILENT_READINGS * min((pace for pace in paces_ms if pace is not None), default=0)

    def of_collector(self, now_ms: int) -> tuple[tuple[str, ...], bool]:
        """What troubles the collector, in sentences, and whether it is up."""
        report, elapsed_s = self._season.last_report(), self._clock.elapsed_s()
        if report is None:
            return ("The collector has not reported yet. Is it running?",), False
        if report != self._report:
            self._report, self._report_since_s = report, elapsed_s
        if now_ms - report.at_ms > REPORT_PATIENCE_MS and elapsed_s - self._report_since_s >= self._stands_s:
            return (f"The collector has not reported since {self._voice.when(report.at_ms, now_ms)}. Is it running?",), False
        return report.troubles, True
