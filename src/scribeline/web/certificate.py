"""The shop's own certificate, with which a tablet can ask the app over https.

A root certificate is made once; whoever trusts it on a tablet trusts what it signs. It signs one leaf, for the addresses
this machine is reached at, made anew when another address comes or its time draws near. The root may speak for private
addresses and this machine's own name alone, and for nothing beneath it but leaves (RFC 5280, 4.2.1.9 and 4.2.1.10), so
that its key, once stolen, is no key to the rest of the network.
"""

from __future__ import annotations

import ipaddress
import logging
import os
import re
import socket
import ssl
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from scribeline.files import clear, owners_alone, replace_all

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey

CERTIFICATE_FOLDER = "https"
"""In the data folder; readable by its owner alone."""

KEY_FILE, ROOT_FILE, LEAF_FILE = "root.key", "root.pem", "leaf.pem"

ROOT_LASTS = timedelta(days=3650)
LEAF_LASTS = timedelta(days=90)
"""Phones and tablets refuse what is to last longer than 398 days. A leaf is made anew without anybody's doing."""

RENEWED = timedelta(days=30)
"""So long before its end a certificate is made anew."""

BEGUN = timedelta(days=1)
"""So much before now a certificate begins: a tablet's clock may be behind."""

MOST_ADDRESSES = 16
"""Of one leaf; the oldest go."""

PRIVATE = (
    "10.0.0.0/8",  # RFC 1918
    "172.16.0.0/12",
    "192.168.0.0/16",
    "169.254.0.0/16",  # RFC 3927, where nobody gives addresses out
    "127.0.0.0/8",  # RFC 1122, 3.2.1.3: a machine itself
)
"""What the root may speak for: addresses that mean something within one network alone."""

NO_NAME = "scribeline.invalid"
"""For a machine without a name of its own: where no name at all is listed, every name would be allowed. RFC 2606, 2."""

_log = logging.getLogger("uvicorn.error")


class Certificate:
    """The shop's root, and the leaf the app answers with.

    Attributes:
        root: as a tablet takes it (DER).
        is_new: whether the root was made just now, and no tablet knows it.
    """

    def __init__(
        self, folder: Path, addresses: Iterable[str] = (), *, now: Callable[[], datetime] | None = None
    ) -> None:
        """Read or make what lies in the data folder.

        Args:
            folder: the data folder.
            addresses: where this machine is reached, as far as is known; the others come as they are asked at.
            now: the time.

        Raises:
            OSError: it cannot be read or written.
        """
        from cryptography.hazmat.primitives.serialization import Encoding

        self.folder = folder / CERTIFICATE_FOLDER
        self._now = now or (lambda: datetime.now(UTC))
        self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        owners_alone(self.folder)
        clear(self.folder)
        self._key, self._root, self.is_new = self._own_root()
        self.root = self._root.public_bytes(Encoding.DER)
        self._networks, self._names = _may_speak_for(self._root)
        self._addresses, self._until = _said_by(self._kept_leaf())
        wanted = [each for each in addresses if self.covers(each)]
        self._context = self._loaded() if self._serves(wanted) else self._renewed(wanted)

    def covers(self, host: str) -> bool:
        """Whether an address or a name is one that the root may speak for."""
        try:
            address = ipaddress.ip_address(host)
        except ValueError:
            return host.lower() in self._names
        return any(address in network for network in self._networks)

    def fingerprint(self) -> str:
        """The root's SHA-256, in pairs of hexadecimal digits, as tablets show it."""
        from cryptography.hazmat.primitives.hashes import SHA256

        return self._root.fingerprint(SHA256()).hex(" ").upper()

    def name(self) -> str:
        """What it is called in a tablet's list."""
        return str(self._root.subject.get_attributes_for_oid(_oid().COMMON_NAME)[0].value)

    def until(self) -> datetime:
        """When the root ends."""
        return self._root.not_valid_after_utc

    def context(self, address: str) -> ssl.SSLContext:
        """What an https connection is answered with that came in at this address of this machine."""
        wanted = [address] if self.covers(address) else []
        if not self._serves(wanted):
            try:
                self._context = self._renewed(wanted)
            except OSError as fault:
                _log.warning("The certificate for %s cannot be kept: %s", address, fault)
        return self._context

    def _serves(self, addresses: list[str]) -> bool:
        """Whether the leaf there is names these addresses and has time left."""
        begun, end = self._until
        return set(addresses) <= set(self._addresses) and begun <= self._now() < end - RENEWED

    def _own_root(self) -> tuple[EllipticCurvePrivateKey, x509.Certificate, bool]:
        """The root with its key; made anew where there is none, it is spoilt, or near its end."""
        from cryptography import x509
        from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
        from cryptography.hazmat.primitives.serialization import load_pem_private_key

        with suppress(FileNotFoundError, ValueError, TypeError):
            key = load_pem_private_key((self.folder / KEY_FILE).read_bytes(), None)
            root = x509.load_pem_x509_certificate((self.folder / ROOT_FILE).read_bytes())
            fits = isinstance(key, EllipticCurvePrivateKey) and key.public_key() == root.public_key()
            if fits and self._now() < root.not_valid_after_utc - RENEWED:
                for each in (KEY_FILE, ROOT_FILE, LEAF_FILE):
                    owners_alone(self.folder / each)
                return key, root, False  # type: ignore[return-value]  # looked at just now
        made, root = _new_root(self._now())
        self._keep({KEY_FILE: _pem(made), ROOT_FILE: _pem(root)})
        (self.folder / LEAF_FILE).unlink(missing_ok=True)
        return made, root, True

    def _kept_leaf(self) -> x509.Certificate | None:
        from cryptography import x509
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives.serialization import load_pem_private_key

        with suppress(FileNotFoundError, ValueError, TypeError, InvalidSignature):
            text = (self.folder / LEAF_FILE).read_bytes()
            leaf, *rest = x509.load_pem_x509_certificates(text)
            leaf.verify_directly_issued_by(self._root)
            fits = load_pem_private_key(text, None).public_key() == leaf.public_key()
            return leaf if fits and rest == [self._root] else None
        return None

    def _renewed(self, addresses: list[str]) -> ssl.SSLContext:
        """A new leaf, for these addresses and those of the last.

        Raises:
            OSError: it cannot be written.
        """
        older = [each for each in self._addresses if each not in addresses]
        every = [*addresses, *older][:MOST_ADDRESSES]
        key, leaf = _new_leaf(self._root, self._key, [*every, *sorted(self._names)], self._now())
        self._keep({LEAF_FILE: _pem(key) + _pem(leaf) + _pem(self._root)})
        self._addresses, self._until = _said_by(leaf)
        return self._loaded()

    def _loaded(self) -> ssl.SSLContext:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        context.set_alpn_protocols(["http/1.1"])
        context.load_cert_chain(self.folder / LEAF_FILE)
        return context

    def _keep(self, files: dict[str, bytes]) -> None:
        """Write them as one set, closed to others from their first byte on."""
        was = os.umask(0o077)
        try:
            replace_all({self.folder / name: content for name, content in files.items()})
        finally:
            os.umask(was)
        for name in files:
            owners_alone(self.folder / name)


def own_name() -> str:
    """This machine's name in its own network, as multicast DNS has it (RFC 6762, 3); nothing where it has none."""
    label = socket.gethostname().partition(".")[0].lower()
    return f"{label}.local" if re.fullmatch(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?", label) else ""


def _oid() -> Any:
    from cryptography.x509.oid import NameOID

    return NameOID


def _pem(what: Any) -> bytes:
    """A certificate or a key as text."""
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    if hasattr(what, "private_bytes"):
        return bytes(what.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    return bytes(what.public_bytes(Encoding.PEM))


def _usages(**wanted: bool) -> x509.KeyUsage:
    from cryptography import x509

    known = (
        "digital_signature",
        "content_commitment",
        "key_encipherment",
        "data_encipherment",
        "key_agreement",
        "key_cert_sign",
        "crl_sign",
        "encipher_only",
        "decipher_only",
    )
    return x509.KeyUsage(**{each: wanted.get(each, False) for each in known})


def _begun(subject: str, key: EllipticCurvePrivateKey, now: datetime, end: datetime) -> Any:
    """A certificate's builder with what root and leaf have alike."""
    from cryptography import x509
    from cryptography.x509.oid import ExtendedKeyUsageOID

    return (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(_oid().COMMON_NAME, subject[:64])]))
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BEGUN)
        .not_valid_after(end)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
    )


def _new_root(now: datetime) -> tuple[EllipticCurvePrivateKey, x509.Certificate]:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, generate_private_key
    from cryptography.hazmat.primitives.hashes import SHA256

    key = generate_private_key(SECP256R1())
    called = f"Scribeline at {socket.gethostname().partition('.')[0] or 'the shop'}"[:40] + f" {now:%Y-%m-%d}"
    bounds = x509.NameConstraints(
        [
            *(x509.IPAddress(ipaddress.ip_network(each)) for each in PRIVATE),
            x509.DNSName(own_name() or NO_NAME),
        ],
        [x509.IPAddress(ipaddress.ip_network("::/0"))],
    )
    builder = _begun(called, key, now, now + ROOT_LASTS)
    subject = x509.Name([x509.NameAttribute(_oid().COMMON_NAME, called)])
    root: x509.Certificate = (
        builder.issuer_name(subject)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usages(key_cert_sign=True), critical=True)
        .add_extension(bounds, critical=True)
        .sign(key, SHA256())
    )
    return key, root


def _new_leaf(
    root: x509.Certificate, root_key: EllipticCurvePrivateKey, hosts: list[str], now: datetime
) -> tuple[EllipticCurvePrivateKey, x509.Certificate]:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, generate_private_key
    from cryptography.hazmat.primitives.hashes import SHA256

    key = generate_private_key(SECP256R1())
    issuer = root.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    end = min(now + LEAF_LASTS, root.not_valid_after_utc)
    leaf: x509.Certificate = (
        _begun("Scribeline's shop app", key, now, end)
        .issuer_name(root.subject)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usages(digital_signature=True), critical=True)
        .add_extension(x509.SubjectAlternativeName([_named(each) for each in hosts]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(issuer), critical=False)
        .sign(root_key, SHA256())
    )
    return key, leaf


def _named(host: str) -> x509.GeneralName:
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)


def _may_speak_for(root: x509.Certificate) -> tuple[list[Any], frozenset[str]]:
    """The networks and names of a root."""
    from cryptography import x509

    bounds = root.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    networks = [each.value for each in bounds if isinstance(each, x509.IPAddress)]
    names = {str(each.value) for each in bounds if isinstance(each, x509.DNSName)}
    return networks, frozenset(names - {NO_NAME})


def _said_by(leaf: x509.Certificate | None) -> tuple[list[str], tuple[datetime, datetime]]:
    """The addresses that a leaf names, and from when to when it lasts; none, and never, where there is no leaf."""
    from cryptography import x509

    if leaf is None:
        return [], (datetime.max.replace(tzinfo=UTC), datetime.max.replace(tzinfo=UTC))
    named = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    addresses = [str(each) for each in named.get_values_for_type(x509.IPAddress)]
    return addresses, (leaf.not_valid_before_utc, leaf.not_valid_after_utc)
