"""The certificate that the house makes for the local network."""

import socket
import ssl
import threading
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509

from obverse.foundation import InputError, StoreError
from obverse.web.certificate import LIFE, own_certificate
from obverse.web.server import checked_address, house_secret, page_token

HOSTS = ("127.0.0.1", "localhost", "192.168.7.5")


def now() -> datetime:
    """TLS itself reads the clock of the computer, so this test does too."""
    return datetime.now(UTC)


def test_it_names_its_hosts_and_only_the_owner_may_read_the_key(tmp_path):
    certificate, key, print_ = own_certificate(tmp_path / "tls", HOSTS, now())
    names = (
        x509.load_pem_x509_certificate(certificate.read_bytes())
        .extensions.get_extension_for_class(x509.SubjectAlternativeName)
        .value
    )
    assert [str(name.value) for name in names] == list(HOSTS)
    assert key.stat().st_mode & 0o777 == 0o600 and key.parent.stat().st_mode & 0o777 == 0o700
    assert len(print_.split(":")) == 32


def test_it_is_kept_until_it_ends_or_the_address_changes(tmp_path):
    first = own_certificate(tmp_path, HOSTS, now())[2]
    assert own_certificate(tmp_path, HOSTS, now())[2] == first
    assert own_certificate(tmp_path, HOSTS[:2], now())[2] == first
    assert own_certificate(tmp_path, (*HOSTS, "10.0.0.1"), now())[2] != first
    second = own_certificate(tmp_path, HOSTS, now())[2]
    assert own_certificate(tmp_path, HOSTS, now() + LIFE)[2] != second


@pytest.mark.parametrize("spoilt", ["certificate.pem", "key.pem"])
def test_a_damaged_one_is_made_anew(tmp_path, spoilt):
    first = own_certificate(tmp_path, HOSTS, now())[2]
    (tmp_path / spoilt).write_text("damaged")
    assert own_certificate(tmp_path, HOSTS, now())[2] != first


def test_a_folder_that_cannot_be_written(tmp_path):
    (tmp_path / "tls").write_text("")
    with pytest.raises(StoreError, match="certificate cannot be kept"):
        own_certificate(tmp_path / "tls", HOSTS, now())


def test_a_phone_that_trusts_it_gets_a_sealed_connection(tmp_path):
    certificate, key, _ = own_certificate(tmp_path, HOSTS, now())
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(certificate, key)
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()

        def answer():
            peer, _ = listening.accept()
            with server.wrap_socket(peer, server_side=True) as sealed:
                sealed.sendall(b"silver")

        thread = threading.Thread(target=answer)
        thread.start()
        phone = ssl.create_default_context(cafile=str(certificate))
        with (
            socket.create_connection(listening.getsockname()) as plain,
            phone.wrap_socket(plain, server_hostname="127.0.0.1") as sealed,
        ):
            assert sealed.recv(10) == b"silver"
            assert sealed.version() in ("TLSv1.2", "TLSv1.3")
        thread.join()


def test_it_is_good_for_no_longer_than_phones_accept(tmp_path):
    certificate = x509.load_pem_x509_certificate(own_certificate(tmp_path, HOSTS, now())[0].read_bytes())
    assert certificate.not_valid_after_utc - certificate.not_valid_before_utc <= timedelta(days=398)


def test_the_secret_of_a_home_is_made_once(tmp_path):
    first = house_secret(tmp_path)
    assert house_secret(tmp_path) == first and (tmp_path / "secret").stat().st_mode & 0o777 == 0o600
    assert page_token(first) == page_token(first) and first not in page_token(first)
    (tmp_path / "secret").write_text("short")
    with pytest.raises(StoreError, match="damaged"):
        house_secret(tmp_path)
    with pytest.raises(StoreError, match="cannot be used"):
        house_secret(tmp_path / "nowhere")


@pytest.mark.parametrize("text", ["moon", "0.0.0.0", "224.0.0.1", "", "192.168.1", "::1"])
def test_addresses_that_are_none(text):
    with pytest.raises(InputError, match="--address"):
        checked_address(text)
