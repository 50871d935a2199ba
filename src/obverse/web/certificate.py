"""A certificate of our own for the local network, so that the phone's connection is sealed."""

from __future__ import annotations

import ipaddress
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from obverse.foundation import StoreError
from obverse.system import make_private_folder, new_private_file

# Phones refuse certificates that claim to be good for longer than about thirteen months.
LIFE = timedelta(days=390)


def own_certificate(folder: Path, hosts: tuple[str, ...], now: datetime) -> tuple[Path, Path, str]:
    """The certificate and key for `hosts`, made where there is none that fits.

    Returns
    -------
    tuple
        Certificate file, key file (readable by the owner alone), and the SHA-256 fingerprint in
        hex pairs, to be compared on the phone.

    Raises
    ------
    StoreError
        If the folder cannot be written.
    """
    certificate_file, key_file = folder / "certificate.pem", folder / "key.pem"
    try:
        make_private_folder(folder)
        certificate = _usable(certificate_file, key_file, hosts, now)
        if certificate is None:
            certificate = _make(certificate_file, key_file, hosts, now)
    except OSError as error:
        raise StoreError(
            f"the certificate cannot be kept ({error.strerror})", where=str(folder), remedy="check the folder"
        ) from error
    print_ = certificate.fingerprint(hashes.SHA256()).hex().upper()
    return certificate_file, key_file, ":".join(print_[i : i + 2] for i in range(0, len(print_), 2))


def _names(hosts: tuple[str, ...]) -> list[x509.GeneralName]:
    names: list[x509.GeneralName] = []
    for host in hosts:
        try:
            names.append(x509.IPAddress(ipaddress.ip_address(host)))
        except ValueError:
            names.append(x509.DNSName(host))
    return names


def _usable(certificate_file: Path, key_file: Path, hosts: tuple[str, ...], now: datetime) -> x509.Certificate | None:
    if not (certificate_file.exists() and key_file.exists()):
        return None
    try:
        certificate = x509.load_pem_x509_certificate(certificate_file.read_bytes())
        key = serialization.load_pem_private_key(key_file.read_bytes(), password=None)
        kept = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (ValueError, x509.ExtensionNotFound):
        return None
    fits = all(name in list(kept) for name in _names(hosts)) and key.public_key() == certificate.public_key()
    in_time = certificate.not_valid_before_utc <= now < certificate.not_valid_after_utc - timedelta(days=2)
    return certificate if fits and in_time else None


def _make(certificate_file: Path, key_file: Path, hosts: tuple[str, ...], now: datetime) -> x509.Certificate:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "obverse of this darkroom")])
    start = now.astimezone(UTC) - timedelta(days=1)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(start)
        .not_valid_after(start + LIFE)
        .add_extension(x509.SubjectAlternativeName(_names(hosts)), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([x509.oid.ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    secret = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    key_file.unlink(missing_ok=True)
    with new_private_file(key_file) as file:
        file.write(secret)
    certificate_file.write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
    return certificate
