"""Where a request comes from."""

from ipaddress import IPv6Address, IPv6Network, ip_address

from django.conf import settings
from django.http import HttpRequest


def asked_from(request: HttpRequest) -> str:
    """The address asked from, as tries are counted by; behind our own proxy, the one that it names last."""
    forwarded = request.META.get("HTTP_X_FORWARDED_FOR", "")
    if forwarded and getattr(settings, "SECURE_PROXY_SSL_HEADER", None):
        return counted(str(forwarded).rsplit(",", 1)[-1].strip())
    return counted(str(request.META.get("REMOTE_ADDR", "")))


def counted(address: str) -> str:
    """One household has 2**64 addresses of IPv6 (RFC 6177): they are the first of their network."""
    try:
        known = ip_address(address)
    except ValueError:
        return address
    if not isinstance(known, IPv6Address) or known.is_loopback:
        return str(known)
    if known.ipv4_mapped is not None:
        return str(known.ipv4_mapped)
    return str(IPv6Network((known, 64), strict=False).network_address)
