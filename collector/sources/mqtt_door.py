"""How a client comes in at the broker: who it is, and how it makes sure of whom it speaks to."""

from __future__ import annotations

import ssl

from paho.mqtt.client import Client

from collector.settings import MqttSettings, TlsSettings


def equip(client: Client, settings: MqttSettings) -> None:
    """Give a client user and password, and TLS where the garden file asks for it.

    Raises OSError for a certificate or key that cannot be read, or is none.
    """
    if settings.user is not None:
        client.username_pw_set(settings.user, settings.password)
    if settings.tls is not None:
        client.tls_set_context(_context(settings.tls))


def _context(tls: TlsSettings) -> ssl.SSLContext:
    """The broker's certificate has to be signed by one that is trusted, and to bear the name that it was called by."""
    try:
        context = ssl.create_default_context(cafile=None if tls.ca_file is None else str(tls.ca_file))
    except OSError as error:
        raise OSError(f"ca_file {tls.ca_file}: {why(error)}") from error
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    if tls.cert_file is not None:
        try:
            # A key with a password would be asked for at the terminal, where nobody may be.
            context.load_cert_chain(tls.cert_file, tls.key_file, password=_no_password)
        except OSError as error:
            raise OSError(f"cert_file {tls.cert_file} and key_file {tls.key_file}: {why(error)}") from error
    return context


def _no_password() -> str:
    raise OSError("the key has a password; want one without, that only the collector's user can read")


def why(error: Exception) -> str:
    """Why a broker cannot be reached, as a person can use it."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"its certificate is not accepted: {error.verify_message.rstrip('.')}"
    if isinstance(error, ssl.SSLError) and error.reason:
        return f"TLS: {error.reason.replace('_', ' ').lower()}"
    return getattr(error, "strerror", None) or str(error)
