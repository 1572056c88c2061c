"""The shop's own certificate: made once, its leaf as often as is needed, and of no use to whoever would speak for anybody else.

Judged by OpenSSL, through Python's own ssl, and by the verifier of the `cryptography` library.
"""

from __future__ import annotations

import ipaddress
import socket
import ssl
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, generate_private_key
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from scribeline.web import certificate as module
from scribeline.web.certificate import CERTIFICATE_FOLDER, KEY_FILE, LEAF_FILE, ROOT_FILE, Certificate

HERE = "192.168.7.5"
NOW = datetime(2026, 12, 1, 12, tzinfo=UTC)

Host = ipaddress.IPv4Address | ipaddress.IPv6Address | str


def shaken(chain: Path, root: bytes, host: str) -> None:
    """Both sides of a TLS handshake without a network.

    Raises:
        ssl.SSLCertVerificationError: the client, who trusts this root alone, refuses what the server shows.
    """
    serving = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    serving.load_cert_chain(chain)
    talk(serving, root, host)


def talk(serving: ssl.SSLContext, root: bytes, host: str) -> None:
    to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
    asking = ssl.create_default_context(cadata=root)
    client = asking.wrap_bio(to_client, to_server, server_hostname=host)
    server = serving.wrap_bio(to_server, to_client, server_side=True)
    waits = [client, server]
    for _ in range(10):
        for side in [*waits]:
            try:
                side.do_handshake()
            except ssl.SSLWantReadError:
                continue
            waits.remove(side)
    assert not waits


def by_the_library(chain: Path, root: bytes, host: Host) -> None:
    """Raises VerificationError where it is refused."""
    leaf, *rest = x509.load_pem_x509_certificates(chain.read_bytes())
    subject: Any = x509.DNSName(host) if isinstance(host, str) else x509.IPAddress(host)
    policy = PolicyBuilder().store(Store([x509.load_der_x509_certificate(root)]))
    policy.build_server_verifier(subject).verify(leaf, rest)


class Thief:
    """Somebody who has the root's key and signs what it was not made for."""

    def __init__(self, folder: Path) -> None:
        kept = folder / CERTIFICATE_FOLDER
        self.root = x509.load_pem_x509_certificate((kept / ROOT_FILE).read_bytes())
        self.key: Any = load_pem_private_key((kept / KEY_FILE).read_bytes(), None)

    def forge(self, into: Path, hosts: Sequence[Host], *, ca: bool = False, by: Thief | None = None) -> Thief:
        """A certificate for these hosts with its chain, in a file."""
        issuer, key = by or self, generate_private_key(SECP256R1())
        named = [x509.DNSName(each) if isinstance(each, str) else x509.IPAddress(each) for each in hosts]
        now = datetime.now(UTC)
        builder = (
            x509.CertificateBuilder()
            .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "forged")]))
            .issuer_name(issuer.root.subject)
            .public_key(key.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(now - timedelta(hours=1))
            .not_valid_after(now + timedelta(days=9))
            .add_extension(x509.BasicConstraints(ca, None), critical=True)
            .add_extension(
                x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer.key.public_key()), critical=False
            )
            .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
            .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        )
        if named:
            builder = builder.add_extension(x509.SubjectAlternativeName(named), critical=False)
        made = Thief.__new__(Thief)
        made.root, made.key = builder.sign(issuer.key, SHA256()), key
        private = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
        chain = [made.root, *([issuer.root] if by else [])]
        into.write_bytes(private + b"".join(each.public_bytes(Encoding.PEM) for each in chain))
        return made


def leaf_of(folder: Path) -> x509.Certificate:
    return x509.load_pem_x509_certificate((folder / CERTIFICATE_FOLDER / LEAF_FILE).read_bytes())


def named_by(leaf: x509.Certificate) -> set[str]:
    said = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {str(each) for each in said.get_values_for_type(x509.IPAddress)}


def test_it_is_made_once_and_is_its_owners_alone(tmp_path: Path) -> None:
    first = Certificate(tmp_path, [HERE, "127.0.0.1"])
    assert first.is_new
    folder = tmp_path / CERTIFICATE_FOLDER
    assert folder.stat().st_mode & 0o777 == 0o700
    for name in (KEY_FILE, ROOT_FILE, LEAF_FILE):
        assert (folder / name).stat().st_mode & 0o777 == 0o600
    kept = (folder / LEAF_FILE).read_bytes()
    (folder / KEY_FILE).chmod(0o644)
    again = Certificate(tmp_path, ["127.0.0.1"])
    assert not again.is_new
    assert again.root == first.root
    assert (folder / LEAF_FILE).read_bytes() == kept
    assert (folder / KEY_FILE).stat().st_mode & 0o777 == 0o600
    digest = x509.load_der_x509_certificate(first.root).fingerprint(SHA256())
    assert bytes.fromhex(first.fingerprint()) == digest


def test_two_verifiers_take_it_for_this_machine_and_for_nobody_else(tmp_path: Path) -> None:
    made = Certificate(tmp_path, [HERE])
    leaf = tmp_path / CERTIFICATE_FOLDER / LEAF_FILE
    shaken(leaf, made.root, HERE)
    by_the_library(leaf, made.root, ipaddress.ip_address(HERE))
    with pytest.raises(ssl.SSLCertVerificationError, match="IP address mismatch"):
        shaken(leaf, made.root, "192.168.7.6")
    with pytest.raises(VerificationError):
        by_the_library(leaf, made.root, ipaddress.ip_address("192.168.7.6"))
    other = Certificate(tmp_path / "other", [HERE])
    with pytest.raises(ssl.SSLCertVerificationError, match="self-signed certificate in certificate chain"):
        shaken(leaf, other.root, HERE)


@pytest.mark.parametrize(
    "host",
    [
        "bank.example",
        "example.local",
        "localhost",
        ipaddress.ip_address("203.0.113.5"),
        ipaddress.ip_address("172.32.0.1"),
        ipaddress.ip_address("100.64.0.1"),
        ipaddress.ip_address("2001:db8::1"),
        ipaddress.ip_address("fd00::1"),
    ],
    ids=str,
)
def test_a_stolen_key_signs_for_no_public_name_or_address(tmp_path: Path, host: Host) -> None:
    """RFC 5280, 4.2.1.10: what the root's name constraints do not permit is refused, whatever its key signed."""
    root = Certificate(tmp_path).root
    thief, forged = Thief(tmp_path), tmp_path / "forged.pem"
    thief.forge(forged, [ipaddress.ip_address("192.168.7.9")])
    shaken(forged, root, "192.168.7.9")  # as far as it goes: this network's own
    by_the_library(forged, root, ipaddress.ip_address("192.168.7.9"))
    thief.forge(forged, [host])
    with pytest.raises(ssl.SSLCertVerificationError, match=r"(permitted|excluded) subtree violation"):
        shaken(forged, root, str(host))
    with pytest.raises(VerificationError):
        by_the_library(forged, root, host)
    thief.forge(forged, [ipaddress.ip_address("192.168.7.9"), host])
    with pytest.raises(ssl.SSLCertVerificationError, match=r"(permitted|excluded) subtree violation"):
        shaken(forged, root, "192.168.7.9")


def test_a_stolen_key_makes_no_second_root(tmp_path: Path) -> None:
    """RFC 5280, 4.2.1.9: a path length of nought."""
    root = Certificate(tmp_path).root
    thief, forged = Thief(tmp_path), tmp_path / "forged.pem"
    under = thief.forge(tmp_path / "under.pem", [], ca=True)
    thief.forge(forged, [ipaddress.ip_address(HERE)], by=under)
    with pytest.raises(ssl.SSLCertVerificationError, match="path length constraint exceeded"):
        shaken(forged, root, HERE)


def test_the_leaf_is_made_anew_when_an_address_comes_and_in_time(tmp_path: Path) -> None:
    """At most 398 days, which is what tablets take."""
    now = [NOW]
    made = Certificate(tmp_path, [HERE], now=lambda: now[0])
    first = leaf_of(tmp_path)
    assert first.not_valid_before_utc < NOW < first.not_valid_after_utc
    assert first.not_valid_after_utc - first.not_valid_before_utc <= timedelta(days=398)
    assert made.context(HERE) is made.context(HERE)
    assert leaf_of(tmp_path) == first
    made.context("203.0.113.5")  # nothing it may speak for
    assert leaf_of(tmp_path) == first
    made.context("10.1.2.3")
    second = leaf_of(tmp_path)
    assert named_by(second) == {HERE, "10.1.2.3"}
    assert second.issuer == first.issuer
    now[0] = second.not_valid_after_utc - timedelta(days=31)
    made.context(HERE)
    assert leaf_of(tmp_path) == second
    now[0] += timedelta(days=2)
    made.context(HERE)
    third = leaf_of(tmp_path)
    assert third.not_valid_after_utc > second.not_valid_after_utc
    assert named_by(third) == {HERE, "10.1.2.3"}
    for n in range(40):
        made.context(f"10.1.3.{n}")
    assert len(named_by(leaf_of(tmp_path))) == module.MOST_ADDRESSES
    assert "10.1.3.39" in named_by(leaf_of(tmp_path))
    # Long switched off: past the leaf's end, within the root's.
    now[0] = NOW + timedelta(days=900)
    later = Certificate(tmp_path, [HERE], now=lambda: now[0])
    assert later.root == made.root
    assert leaf_of(tmp_path).not_valid_after_utc > now[0]


def test_a_clock_that_went_back_makes_no_new_root(tmp_path: Path) -> None:
    root = Certificate(tmp_path, [HERE], now=lambda: NOW).root
    early = NOW - timedelta(days=3000)
    made = Certificate(tmp_path, [HERE], now=lambda: early)
    assert made.root == root
    assert leaf_of(tmp_path).not_valid_before_utc < early
    assert Certificate(tmp_path, [HERE], now=lambda: NOW).root == root
    assert leaf_of(tmp_path).not_valid_before_utc < NOW < leaf_of(tmp_path).not_valid_after_utc


def test_a_leaf_never_outlives_its_root_and_a_root_near_its_end_is_made_anew(tmp_path: Path) -> None:
    first = Certificate(tmp_path, [HERE], now=lambda: NOW)
    late = first.until() - timedelta(days=40)
    same = Certificate(tmp_path, [HERE], now=lambda: late)
    assert same.root == first.root
    assert leaf_of(tmp_path).not_valid_after_utc == first.until()
    over = first.until() - timedelta(days=20)
    second = Certificate(tmp_path, [HERE], now=lambda: over)
    assert second.is_new
    assert second.root != first.root
    leaf_of(tmp_path).verify_directly_issued_by(x509.load_der_x509_certificate(second.root))


@pytest.mark.parametrize("name", [KEY_FILE, ROOT_FILE, LEAF_FILE])
@pytest.mark.parametrize("content", [b"", b"\xff\xfe", None, "cut", "another's"])
def test_what_was_spoilt_is_made_anew(tmp_path: Path, name: str, content: bytes | str | None) -> None:
    root = Certificate(tmp_path, [HERE]).root
    path = tmp_path / CERTIFICATE_FOLDER / name
    if content is None:
        path.unlink()
    elif content == "cut":
        path.write_bytes(path.read_bytes()[:-70])
    elif content == "another's":
        Certificate(tmp_path / "other", [HERE])
        path.write_bytes((tmp_path / "other" / CERTIFICATE_FOLDER / name).read_bytes())
    else:
        assert isinstance(content, bytes)
        path.write_bytes(content)
    made = Certificate(tmp_path, [HERE])
    assert (made.root == root) == (name == LEAF_FILE)
    assert made.is_new == (name != LEAF_FILE)
    talk(made.context(HERE), made.root, HERE)


@pytest.mark.parametrize(
    ("host", "permitted"),
    [
        ("bench-pc", "bench-pc.local"),
        ("Bench-PC.example.org", "bench-pc.local"),
        ("dev", "dev.local"),
        ("", module.NO_NAME),
        ("bench pc", module.NO_NAME),
        ("bänk", module.NO_NAME),
    ],
)
def test_of_names_only_the_machines_own_in_its_network_is_permitted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, host: str, permitted: str
) -> None:
    """Never a bare label, which might be the end of public names (`dev`); never no name at all, which permits every one."""
    monkeypatch.setattr(socket, "gethostname", lambda: host)
    made = Certificate(tmp_path, [HERE])
    bounds = x509.load_der_x509_certificate(made.root).extensions.get_extension_for_class(
        x509.NameConstraints
    )
    assert bounds.critical
    names = [each.value for each in bounds.value.permitted_subtrees or [] if isinstance(each, x509.DNSName)]
    assert names == [permitted]
    assert made.covers(permitted) == (permitted != module.NO_NAME)
    assert not made.covers(host)
    shaken(tmp_path / CERTIFICATE_FOLDER / LEAF_FILE, made.root, HERE)
    if made.covers(permitted):
        shaken(tmp_path / CERTIFICATE_FOLDER / LEAF_FILE, made.root, permitted)


def test_a_disk_that_refuses_leaves_what_there_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = Certificate(tmp_path, [HERE])
    kept = made.context(HERE)

    def refuse(files: object) -> None:
        message = "the disk is full"
        raise OSError(message)

    monkeypatch.setattr(module, "replace_all", refuse)
    assert made.context("10.1.2.3") is kept
    monkeypatch.undo()
    made.context("10.1.2.3")
    assert "10.1.2.3" in named_by(leaf_of(tmp_path))
