"""Certificates: an authority of the garden's own, and what it signs. Takes the library `cryptography`."""

from __future__ import annotations

import datetime as dt
import ipaddress
from collections.abc import Sequence

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

# A board whose clock was never set yet is behind, and one that was set is behind by little.
_BACK = dt.timedelta(days=2)


def authority(now: dt.datetime, life: dt.timedelta) -> tuple[str, str]:
    """Key and certificate of a new authority, in PEM."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = _name("Cooldepth garden authority")
    builder = _builder(name, name, key, now, now + life)
    usage = x509.KeyUsage(False, False, False, False, False, True, True, False, False)
    builder = builder.add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
    builder = builder.add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    certificate = builder.add_extension(usage, critical=True).sign(key, hashes.SHA256())
    return _pem(key), certificate.public_bytes(serialization.Encoding.PEM).decode()


def signed(by: tuple[str, str], hosts: Sequence[str], now: dt.datetime, life: dt.timedelta) -> tuple[str, str]:
    """Key and certificate of a server with these names, signed by an authority's key and certificate, all in PEM."""
    authority_key = serialization.load_pem_private_key(by[0].encode(), None)
    assert isinstance(authority_key, ec.EllipticCurvePrivateKey)
    issuer = x509.load_pem_x509_certificate(by[1].encode())
    key = ec.generate_private_key(ec.SECP256R1())
    builder = _builder(_name(hosts[0]), issuer.subject, key, now, min(now + life, issuer.not_valid_after_utc))
    builder = builder.add_extension(x509.SubjectAlternativeName([_general(host) for host in hosts]), critical=False)
    builder = builder.add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
    builder = builder.add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    of_issuer = x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key())
    builder = builder.add_extension(of_issuer, critical=False)
    builder = builder.add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
    certificate = builder.sign(authority_key, hashes.SHA256())
    return _pem(key), certificate.public_bytes(serialization.Encoding.PEM).decode()


def holds(certificate: str, by: str, hosts: Sequence[str], until: dt.datetime) -> bool:
    """Whether a certificate is signed by that authority, for just these names, and holds beyond that time."""
    one, issuer = (x509.load_pem_x509_certificate(text.encode()) for text in (certificate, by))
    try:
        one.verify_directly_issued_by(issuer)
    except (ValueError, TypeError, InvalidSignature):
        return False
    names = one.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return set(names) == {_general(host) for host in hosts} and one.not_valid_after_utc > until


def _builder(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePrivateKey, now: dt.datetime, end: dt.datetime
) -> x509.CertificateBuilder:
    builder = x509.CertificateBuilder().subject_name(subject).issuer_name(issuer).public_key(key.public_key())
    return builder.serial_number(x509.random_serial_number()).not_valid_before(now - _BACK).not_valid_after(end)


def _name(text: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text[:64])])


def _general(host: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)


def _pem(key: ec.EllipticCurvePrivateKey) -> str:
    kind = (serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    return key.private_bytes(*kind).decode()
