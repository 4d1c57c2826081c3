"""By which addresses and names this machine is reached, and which of them are a kitchen's own."""

import io
import ipaddress
import re
import socket

import psutil
import segno

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Network = ipaddress.IPv4Network | ipaddress.IPv6Network

LOCAL_NETWORKS: tuple[Network, ...] = tuple(
    ipaddress.ip_network(text)
    for text in (
        "127.0.0.0/8",
        "::1/128",
        # RFC 1918, RFC 4193: a network of one's own.
        "10.0.0.0/8",
        "172.16.0.0/12",
        "192.168.0.0/16",
        "fc00::/7",
        # RFC 3927, RFC 4291: one link, without a router.
        "169.254.0.0/16",
        "fe80::/10",
        # RFC 6598: shared behind a provider's router, the same in many places.
        "100.64.0.0/10",
        # RFC 5737: set aside for examples, used by some closed networks.
        "192.0.2.0/24",
        "198.51.100.0/24",
        "203.0.113.0/24",
    )
)
"""Addresses that mean something else in every kitchen, and that nobody owns in public."""


def is_local(address: Address) -> bool:
    """Tell whether an address belongs to one of the local networks."""
    return any(address in network for network in LOCAL_NETWORKS)


def own_addresses() -> tuple[Address, ...]:
    """Return every address of this machine's network interfaces, loopback among them."""
    families = (socket.AF_INET, socket.AF_INET6)
    found = {
        # A zone ("fe80::1%eth0") means something on this machine only.
        ipaddress.ip_address(one.address.partition("%")[0])
        for addresses in psutil.net_if_addrs().values()
        for one in addresses
        if one.family in families
    }
    return tuple(sorted(found, key=lambda address: (address.version, int(address))))


def own_name() -> str:
    """Return the name by which this machine is called on its link (RFC 6762), "hall.local"."""
    label = socket.gethostname().partition(".")[0].lower()
    return re.sub(r"[^a-z0-9-]+", "-", label).strip("-")[:63] + ".local"


def qr_svg(text: str) -> str:
    """Return a QR code as SVG: dark on white with its quiet zone, in any theme."""
    out = io.BytesIO()
    code = segno.make(text, error="m", micro=False)
    code.save(out, kind="svg", scale=6, border=4, light="#fff", dark="#000", xmldecl=False)
    return out.getvalue().decode()


def qr_terminal(text: str) -> str:
    """Return a QR code for a terminal, two rows of it to a line."""
    out = io.StringIO()
    segno.make(text, error="m", micro=False).terminal(out=out, compact=True)
    return out.getvalue()
