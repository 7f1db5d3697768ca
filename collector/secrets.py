"""Secrets: an environment variable, or a file that one names. Pure but for reading that file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

MQTT_USER = "COOLDEPTH_MQTT_USER"
MQTT_PASSWORD = "COOLDEPTH_MQTT_PASSWORD"
INFLUX_TOKEN = "COOLDEPTH_INFLUX_TOKEN"
WEATHER_KEY = "COOLDEPTH_WEATHER_KEY"


class SecretError(ValueError):
    """A secret that is named but cannot be had; the message says why, never what."""


def secret(environ: Mapping[str, str], name: str) -> str | None:
    """The value of the variable `name`, or the text of the file that the variable `name`_FILE names; None if neither is set.

    Raises SecretError where both are set or the file cannot be read.
    """
    direct, in_file = environ.get(name), environ.get(f"{name}_FILE")
    if not in_file:
        return direct or None
    if direct:
        raise SecretError(f"both {name} and {name}_FILE are set; keep one of them")
    try:
        return Path(in_file).read_text(encoding="utf-8").strip() or None
    except OSError as error:
        raise SecretError(
            f"{name}_FILE names {in_file}, which cannot be read ({error.strerror}); put the secret there"
        ) from error
    except UnicodeDecodeError:
        raise SecretError(f"{name}_FILE names {in_file}, which is not UTF-8 text; put the secret there") from None
