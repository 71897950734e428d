"""A small certificate authority for the bay: made once, and good for the shop's own network only."""

import ipaddress
import subprocess
from collections.abc import Sequence
from pathlib import Path

from .folder import make_private
from .screen import Refusal
from .serving import Pair

AUTHORITY_DAYS = 3650
SERVER_DAYS = 397  # phones refuse longer ones
RENEW_SECONDS = 30 * 24 * 3600

# Addresses of private networks (RFC 1918), link-local ones (RFC 3927) and this machine itself.
NETWORKS = tuple(
    ipaddress.IPv4Network(text)
    for text in ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8")
)
# A phone that trusts this authority trusts it for private addresses and names ending in .local, nothing else.
AUTHORITY = """[req]
distinguished_name = name
prompt = no
[name]
CN = shopwarranty bay authority
[authority]
basicConstraints = critical, CA:TRUE, pathlen:0
keyUsage = critical, keyCertSign, cRLSign
subjectKeyIdentifier = hash
nameConstraints = critical, @allowed
[allowed]
permitted;DNS.1 = local
permitted;DNS.2 = localhost
"""
SERVER = """[req]
distinguished_name = name
prompt = no
[name]
CN = shopwarranty
[server]
basicConstraints = critical, CA:FALSE
keyUsage = critical, digitalSignature
extendedKeyUsage = serverAuth
subjectKeyIdentifier = hash
authorityKeyIdentifier = keyid
subjectAltName = {names}
"""


def may_vouch_for(name: str) -> bool:
    """A certificate with one name outside what the authority is allowed to vouch for is no good at all."""
    try:
        address = ipaddress.IPv4Address(name)
    except ValueError:
        return name == "localhost" or name.endswith(".local")
    return any(address in network for network in NETWORKS)


def allowed_networks() -> str:
    lines = (f"permitted;IP.{n} = {net.with_netmask}" for n, net in enumerate(NETWORKS, start=1))
    return "\n".join(lines) + "\n"


def see_to(folder: Path, names: Sequence[str]) -> Pair:
    """The server's certificate for these names and addresses; made anew when they change or it runs out."""
    make_private(folder)
    authority = Pair(folder / "authority.crt", folder / "authority.key")
    server = Pair(folder / "server.crt", folder / "server.key")
    if not (authority.certificate.exists() and authority.key.exists()):
        make_authority(folder, authority)
    listed = folder / "server.names"
    wanted = alternative_names(names)
    if not (listed.exists() and listed.read_text() == wanted and lasts(server.certificate)):
        make_server(folder, authority, server, wanted)
        listed.write_text(wanted)
    return server


def make_authority(folder: Path, authority: Pair) -> None:
    settings = folder / "authority.cnf"
    settings.write_text(AUTHORITY + allowed_networks())
    make_key(authority.key)
    request = ("req", "-x509", "-new", "-sha256", "-key", str(authority.key), "-days", str(AUTHORITY_DAYS))
    openssl(
        *request, "-config", str(settings), "-extensions", "authority", "-out", str(authority.certificate)
    )


def make_server(folder: Path, authority: Pair, server: Pair, names: str) -> None:
    settings, request = folder / "server.cnf", folder / "server.csr"
    settings.write_text(SERVER.format(names=names))
    make_key(server.key)
    openssl("req", "-new", "-key", str(server.key), "-config", str(settings), "-out", str(request))
    signed_by = ("-CA", str(authority.certificate), "-CAkey", str(authority.key), "-CAcreateserial")
    extensions = ("-extfile", str(settings), "-extensions", "server")
    sign = ("x509", "-req", "-sha256", "-in", str(request), "-days", str(SERVER_DAYS))
    openssl(*sign, *signed_by, *extensions, "-out", str(server.certificate))


def make_key(path: Path) -> None:
    openssl("ecparam", "-name", "prime256v1", "-genkey", "-noout", "-out", str(path))
    path.chmod(0o600)


def lasts(certificate: Path) -> bool:
    ask = ("openssl", "x509", "-noout", "-checkend", str(RENEW_SECONDS), "-in", str(certificate))
    return subprocess.run(ask, capture_output=True, check=False).returncode == 0


def fingerprint(certificate: Path) -> str:
    answer = openssl("x509", "-noout", "-fingerprint", "-sha256", "-in", str(certificate))
    return answer.partition("=")[2].strip()


def alternative_names(names: Sequence[str]) -> str:
    kind = ("IP" if name.replace(".", "").isdigit() else "DNS" for name in names)
    return ", ".join(f"{k}:{name}" for k, name in zip(kind, names, strict=True))


def openssl(*arguments: str) -> str:
    done = subprocess.run(("openssl", *arguments), capture_output=True, text=True, check=False, umask=0o077)
    if done.returncode:
        raise Refusal(f"openssl could not make the certificate:\n{done.stderr}")
    return done.stdout
