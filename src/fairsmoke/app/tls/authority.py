"""A certificate authority of this machine's own, that a phone can be told to trust.

What a phone trusts is a root certificate whose key is thrown away as soon as it has signed one
other certificate. That one's key is kept, and it can vouch only for addresses of local networks
and for the names that were given when it was made (name constraints, RFC 5280 section 4.2.1.10).
Limits in a root certificate itself are passed over by some software, limits below it are not; so
whoever steals the kept key cannot pretend to be a bank, not even to a phone that trusts the root.
"""

import contextlib
import os
import secrets
import stat
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from platformdirs import user_data_path

from fairsmoke.app.tls.reach import LOCAL_NETWORKS, Address, is_local
from fairsmoke.messages.errors import JobError

AUTHORITY_LASTS = timedelta(days=3652)
SERVER_LASTS = timedelta(days=397)
"""Phones refuse longer ones (398 days is the usual limit, 825 for authorities of one's own); a new
one is made whenever the app starts."""
_CLOCKS_DIFFER = timedelta(days=1)
_FILE = "authority.pem"


def default_folder() -> Path:
    """Return where the authority lies: among the person's own data, never beside a notebook."""
    return user_data_path("fairsmoke") / "tls"


@dataclass(frozen=True)
class Authority:
    """``root`` is what phones trust; ``signing`` and ``key`` make certificates."""

    root: x509.Certificate
    signing: x509.Certificate
    key: ec.EllipticCurvePrivateKey
    file: Path

    @property
    def root_pem(self) -> bytes:
        """Return the certificate for phones; there is nothing secret in it."""
        return self.root.public_bytes(serialization.Encoding.PEM)

    @property
    def fingerprint(self) -> str:
        """Return the SHA-256 of the certificate, as phones show it: "4F:A0:…"."""
        return self.root.fingerprint(hashes.SHA256()).hex(":").upper()

    @property
    def title(self) -> str:
        """Return what phones call it."""
        return str(self.root.subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value)

    @property
    def names(self) -> frozenset[str]:
        """Return the names that it may vouch for."""
        limits = self.signing.extensions.get_extension_for_class(x509.NameConstraints).value
        permitted = limits.permitted_subtrees or []
        return frozenset(one.value for one in permitted if isinstance(one, x509.DNSName))

    def vouches_for(self, host: str | Address) -> bool:
        """Tell whether a certificate of this authority holds for a host."""
        return host in self.names if isinstance(host, str) else is_local(host)


def authority_in(folder: Path, names: Collection[str], machine: str) -> Authority:
    """Return the authority kept in a folder; the first time one is made, for those names.

    Raises JobError when the file cannot be read, others may read it, or its time is over.
    """
    file = folder / _FILE
    try:
        if not file.exists():
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            _keep(file, _made(names, machine))
        return _read(file)
    except OSError as error:
        raise JobError(
            f"cannot keep this machine's certificate authority in {file} ({error.strerror}); "
            "name another folder with --authority"
        ) from error


def _made(names: Collection[str], machine: str) -> bytes:
    """Return an authority as PEM: key, signing certificate, root certificate."""
    now = datetime.now(UTC)
    # Two that were made for one machine must be told apart on the phone.
    title = f"Fairsmoke on {machine}, {now:%Y-%m-%d} {secrets.token_hex(2)}"[:64]
    root_name, signing_name = _name(title), _name(f"{title[:54]} (signing)")
    root_key, key = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    ends = now + AUTHORITY_LASTS
    root = (
        _begun(root_name, root_name, root_key.public_key(), now, ends)
        .add_extension(x509.BasicConstraints(ca=True, path_length=1), critical=True)
        .add_extension(_may(sign=True), critical=True)
        .add_extension(_limits(names), critical=True)
        .sign(root_key, hashes.SHA256())
    )
    signing = (
        _begun(signing_name, root_name, key.public_key(), now, ends)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_may(sign=True), critical=True)
        .add_extension(_limits(names), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(_issuer(root), critical=False)
        .sign(root_key, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    return _key_pem(key) + signing.public_bytes(pem) + root.public_bytes(pem)


def _keep(file: Path, content: bytes) -> None:
    """Write what must stay secret; of two programs that start at once, one prevails for both."""
    draft = file.with_name(f"{file.name}.{secrets.token_hex(8)}")
    try:
        with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        with contextlib.suppress(FileExistsError):
            os.link(draft, file)
    finally:
        draft.unlink(missing_ok=True)


def _read(file: Path) -> Authority:
    if os.name == "posix" and stat.S_IMODE(file.stat().st_mode) & 0o077:
        raise JobError(f"others on this machine may read {file}; say: chmod 600 {file}")
    content = file.read_bytes()
    try:
        key = serialization.load_pem_private_key(content, None)
        signing, root = x509.load_pem_x509_certificates(content)
        if not isinstance(key, ec.EllipticCurvePrivateKey):
            raise ValueError("another kind of key")
    except ValueError as error:
        raise JobError(
            f"{file} is not a certificate authority of this app ({error}); {_anew(file)}"
        ) from error
    if signing.not_valid_after_utc < datetime.now(UTC) + _CLOCKS_DIFFER:
        raise JobError(f"the time of this machine's authority is over; {_anew(file)}")
    return Authority(root, signing, key, file)


def _anew(file: Path) -> str:
    return f"remove {file} and start again: a new one is made, which each phone must trust anew"


def server_pem(authority: Authority, hosts: Iterable[str | Address]) -> bytes:
    """Return a new key and its certificate for hosts, with the chain up to the root, as PEM.

    Raises ValueError for a host that the authority cannot vouch for.
    """
    named = tuple(hosts)
    if not named or not all(authority.vouches_for(host) for host in named):
        raise ValueError(f"the authority cannot vouch for {named}")
    key = ec.generate_private_key(ec.SECP256R1())
    now = datetime.now(UTC)
    ends = min(now + SERVER_LASTS, authority.signing.not_valid_after_utc)
    certificate = (
        _begun(_name("Fairsmoke"), authority.signing.subject, key.public_key(), now, ends)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_may(sign=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(map(_general, named)), critical=False)
        .add_extension(_issuer(authority.signing), critical=False)
        .sign(authority.key, hashes.SHA256())
    )
    chain = (certificate, authority.signing)
    return _key_pem(key) + b"".join(one.public_bytes(serialization.Encoding.PEM) for one in chain)


def _begun(
    subject: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePublicKey,
    now: datetime,
    ends: datetime,
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _CLOCKS_DIFFER)
        .not_valid_after(ends - _CLOCKS_DIFFER)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key), critical=False)
    )


def _name(title: str) -> x509.Name:
    return x509.Name(
        [
            x509.NameAttribute(NameOID.ORGANIZATION_NAME, "Fairsmoke, a kitchen's own"),
            x509.NameAttribute(NameOID.COMMON_NAME, title),
        ]
    )


def _issuer(of: x509.Certificate) -> x509.AuthorityKeyIdentifier:
    own = of.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    return x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(own)


def _may(*, sign: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not sign,
        key_cert_sign=sign,
        crl_sign=sign,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _limits(names: Collection[str]) -> x509.NameConstraints:
    # A kind of name that is not mentioned would be without limit: both kinds stand here always.
    allowed = [x509.DNSName(name) for name in sorted({"localhost", *names})]
    networks = [x509.IPAddress(network) for network in LOCAL_NETWORKS]
    return x509.NameConstraints(permitted_subtrees=[*allowed, *networks], excluded_subtrees=None)


def _general(host: str | Address) -> x509.GeneralName:
    return x509.DNSName(host) if isinstance(host, str) else x509.IPAddress(host)


def _key_pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
