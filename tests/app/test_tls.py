"""TLS of one's own: held against OpenSSL, which knows nothing of how it was made."""

import ipaddress
import re
import signal
import ssl
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx2
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from fairsmoke.app import serving
from fairsmoke.app.tls import authority as made_here
from fairsmoke.app.tls.authority import Authority, authority_in, server_pem
from fairsmoke.app.tls.own import own_tls
from fairsmoke.app.tls.reach import is_local, own_addresses, own_name
from fairsmoke.cli.commands import run
from fairsmoke.messages.errors import JobError

PIT, NUMBER = "hall.local", ipaddress.ip_address("192.168.7.9")


@pytest.fixture
def authority(tmp_path: Path) -> Authority:
    return authority_in(tmp_path / "tls", {PIT}, "hall")


def chain(pem: bytes) -> list[x509.Certificate]:
    return x509.load_pem_x509_certificates(pem)


def openssl_says(tmp_path: Path, authority: Authority, pem: bytes, *asked: str) -> str:
    """Return what ``openssl verify`` says of a server's certificate to somebody who trusts us."""
    leaf, *above = chain(pem)
    encoding = serialization.Encoding.PEM
    for name, ones in (("root", [authority.root]), ("above", above), ("leaf", [leaf])):
        (tmp_path / name).write_bytes(b"".join(one.public_bytes(encoding) for one in ones))
    command = ["openssl", "verify", "-x509_strict", "-purpose", "sslserver"]
    command += ["-CAfile", str(tmp_path / "root"), "-untrusted", str(tmp_path / "above")]
    done = subprocess.run(
        [*command, *asked, str(tmp_path / "leaf")], capture_output=True, text=True, check=False
    )
    return done.stdout + done.stderr


def signed_by(authority: Authority, *names: x509.GeneralName) -> bytes:
    """Return a certificate as a thief of the kept key would make it."""
    key = ec.generate_private_key(ec.SECP256R1())
    now = datetime.now(UTC)
    stolen = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([]))
        .issuer_name(authority.signing.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=9))
        .add_extension(x509.SubjectAlternativeName(names), critical=True)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(made_here._issuer(authority.signing), critical=False)
        .sign(authority.key, hashes.SHA256())
    )
    encoding = serialization.Encoding.PEM
    return stolen.public_bytes(encoding) + authority.signing.public_bytes(encoding)


def test_openssl_accepts_it_for_our_hosts_only(authority: Authority, tmp_path: Path) -> None:
    pem = server_pem(authority, (PIT, NUMBER, ipaddress.ip_address("fd00::5")))
    for asked in (
        ("-verify_hostname", PIT),
        ("-verify_ip", str(NUMBER)),
        ("-verify_ip", "fd00::5"),
    ):
        assert openssl_says(tmp_path, authority, pem, *asked).endswith(": OK\n")
    wrong = openssl_says(tmp_path, authority, pem, "-verify_ip", "192.168.7.10")
    assert "IP address mismatch" in wrong


@pytest.mark.parametrize(
    "name",
    [
        x509.DNSName("bank.example"),
        x509.DNSName("other.local"),
        x509.IPAddress(ipaddress.ip_address("9.9.9.9")),
        x509.IPAddress(ipaddress.ip_address("2600::1")),
    ],
    ids=str,
)
def test_a_stolen_key_cannot_vouch_for_anybody_else(
    authority: Authority, tmp_path: Path, name: x509.GeneralName
) -> None:
    own = signed_by(authority, x509.DNSName(PIT))
    assert openssl_says(tmp_path, authority, own).endswith(": OK\n")
    said = openssl_says(tmp_path, authority, signed_by(authority, x509.DNSName(PIT), name))
    assert "permitted subtree violation" in said


def test_limits_hold_where_those_of_a_root_are_passed_over(authority: Authority) -> None:
    # The limits stand in the certificate that signs, not only in the one that is trusted.
    limits = authority.signing.extensions.get_extension_for_class(x509.NameConstraints)
    assert limits.critical
    assert authority.signing.public_key() != authority.root.public_key()
    assert authority.key.public_key() == authority.signing.public_key()


def test_the_key_of_what_phones_trust_is_nowhere(authority: Authority) -> None:
    content = authority.file.read_bytes()
    assert content.count(b"PRIVATE KEY-----") == 2  # one: its begin and its end
    assert b"PRIVATE" not in authority.root_pem
    assert list(authority.file.parent.iterdir()) == [authority.file]


def test_it_is_made_once_and_kept_from_others(authority: Authority) -> None:
    file = authority.file
    assert file.stat().st_mode & 0o777 == 0o600
    assert file.parent.stat().st_mode & 0o777 == 0o700
    again = authority_in(file.parent, {"else.local"}, "else")
    assert again.fingerprint == authority.fingerprint
    file.chmod(0o644)
    with pytest.raises(JobError, match="chmod 600"):
        authority_in(file.parent, {PIT}, "hall")


def test_times_are_what_phones_take(authority: Authority) -> None:
    # 398 days: what browsers take of public authorities, the strictest limit there is.
    leaf = chain(server_pem(authority, (PIT,)))[0]
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc <= timedelta(days=398)
    assert leaf.not_valid_before_utc < datetime.now(UTC) - timedelta(hours=23)
    left = authority.root.not_valid_after_utc - datetime.now(UTC)
    assert left > timedelta(days=3600)


def test_what_is_broken_is_said_with_the_mend(authority: Authority, tmp_path: Path) -> None:
    authority.file.write_text("-----BEGIN nothing", encoding="utf-8")
    with pytest.raises(JobError, match=r"remove .* and start again"):
        authority_in(authority.file.parent, {PIT}, "hall")
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(JobError, match="name another folder with --authority"):
        authority_in(tmp_path / "file" / "tls", {PIT}, "hall")


def test_a_name_it_was_not_made_for_is_said(tmp_path: Path) -> None:
    own = own_tls(tmp_path / "tls", "0.0.0.0", ["Pit.Example"])
    assert own.names == ("pit.example", own_name(), "localhost")
    with pytest.raises(JobError, match=r"not for 'grill.example'; leave the name out"):
        own_tls(tmp_path / "tls", "0.0.0.0", ["grill.example"])


def test_own_addresses_hold_loopback_and_those_of_networks() -> None:
    # Python's own view of the machine: what its routes lead out by is one of them.
    addresses = own_addresses()
    assert ipaddress.ip_address("127.0.0.1") in addresses
    assert re.fullmatch(r"[a-z0-9-]+\.local", own_name())
    assert not is_local(ipaddress.ip_address("8.8.8.8"))
    assert not is_local(ipaddress.ip_address("172.32.0.1"))
    assert is_local(ipaddress.ip_address("172.31.255.255"))


@dataclass
class Run:
    said: str
    tls: str
    steps: str
    link: str
    authority: Authority


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Run]:
    """Start ``fairsmoke serve --listen 0.0.0.0`` as a person does."""
    folder = tmp_path_factory.mktemp("tls")
    command = [sys.executable, "-W", "error", "-m", "fairsmoke", "serve", str(folder / "n.db")]
    command += ["--port", "0", "--listen", "0.0.0.0", "--authority", str(folder / "own")]
    command += ["--start", "Village hall", "--time-zone", "Europe/London"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    said = ""
    for line in process.stdout:
        said += line
        if "Ctrl-C" in line:
            break
    tls, steps = (re.search(rf"{s}://[\w.]+:(\d+)", said) for s in ("https", "http"))
    link = re.search(r"/enter/\S+", said)
    assert tls is not None
    assert steps is not None
    assert link is not None
    yield Run(
        said,
        f"https://127.0.0.1:{tls[1]}",
        f"http://127.0.0.1:{steps[1]}",
        link[0],
        authority_in(folder / "own", (), ""),
    )
    process.send_signal(signal.SIGINT)
    rest, _ = process.communicate(timeout=20)
    assert (process.returncode, rest.strip()) == (0, "Stopped.")


def test_who_trusts_the_authority_is_served(running: Run) -> None:
    trusting = ssl.create_default_context(cadata=running.authority.root_pem.decode())
    with httpx2.Client(verify=trusting, base_url=running.tls) as client:
        answer = client.get(running.link)
        assert "Hello, Cook" in answer.text
        assert "__Host-fairsmoke=" in answer.headers["set-cookie"]
        assert "; Secure" in answer.headers["set-cookie"]
    with pytest.raises(httpx2.ConnectError, match="certificate"):
        httpx2.get(running.tls)


def test_the_screen_says_how_and_shows_what_to_compare(running: Run) -> None:
    root = httpx2.get(running.steps + "/fairsmoke-authority.crt")
    assert root.headers["content-type"] == "application/x-x509-ca-cert"
    openssl = subprocess.run(
        ["openssl", "x509", "-noout", "-fingerprint", "-sha256"],
        input=root.content,
        capture_output=True,
        check=True,
    )
    fingerprint = openssl.stdout.decode().strip().partition("=")[2]
    assert fingerprint in running.said
    assert "Once on each phone" in running.said
    # Two QR codes in half blocks: the steps, then the link.
    assert running.said.count("█") > 100
    page = httpx2.get(running.steps).text
    assert fingerprint in page
    assert running.link not in page


def test_without_tls_there_is_that_page_and_nothing_else(running: Run) -> None:
    led = httpx2.get(running.steps + running.link + "?a=b")
    assert led.status_code == 307
    assert led.headers["location"] == running.tls + running.link + "?a=b"
    for path in ("/", "/api/entries", "/sign-in"):
        assert httpx2.post(running.steps + path, content=b"x").status_code == 403
    foreign = httpx2.get(running.steps, headers={"host": "rebound.example"})
    assert foreign.status_code == 400
    german = httpx2.get(running.steps, headers={"accept-language": "de-DE,de"})
    assert '<html lang="de">' in german.text
    assert "Zertifikat holen" in german.text
    assert "default-src 'none'" in german.headers["content-security-policy"]


def test_the_page_of_a_link_says_how_to_trust_first(running: Run) -> None:
    trusting = ssl.create_default_context(cadata=running.authority.root_pem.decode())
    with httpx2.Client(verify=trusting, base_url=running.tls) as client:
        form = client.get(running.link).text
        mark = re.search(r'name="csrf" value="(\w+)"', form)
        assert mark is not None
        assert client.post(running.link, data={"csrf": mark[1]}).status_code == 303
        mark = re.search(r'name="csrf" value="(\w+)"', client.get("/you").text)
        assert mark is not None
        page = client.post("/you/link", data={"csrf": mark[1]}).text
    assert "A phone that was never here" in page
    steps = re.search(r"http://[\w.]+:\d+", running.said)
    assert steps is not None
    assert f'<code class="long">{steps[0]}</code>' in page


def test_public_addresses_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serving, "phone_host", lambda listen: "9.9.9.9")
    command = ["serve", str(tmp_path / "n.db"), "--port", "0", "--listen", "0.0.0.0"]
    command += ["--start", "Hall", "--time-zone", "Europe/London"]
    assert run([*command, "--authority", str(tmp_path / "own")]) == 1
    assert "not an address of a local network" in capsys.readouterr().err
