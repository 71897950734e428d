"""Tries are counted by who can be told apart: one address of IPv4, one network of IPv6."""

import pytest
from django.http import HttpRequest

from shopwarranty.shops.asked_from import asked_from

# RFC 5737 and RFC 3849: addresses kept for documentation; RFC 4291 2.5.5.2: an address of IPv4 inside IPv6.
COUNTED = {
    "192.0.2.7": "192.0.2.7",
    "2001:db8:1:2:aaaa::1": "2001:db8:1:2::",
    "2001:db8:1:2:bbbb::9": "2001:db8:1:2::",
    "2001:db8:1:3::1": "2001:db8:1:3::",
    "::ffff:192.0.2.7": "192.0.2.7",
    "::1": "::1",
    "": "",
    "unknown": "unknown",
}


@pytest.mark.parametrize(("address", "expected"), COUNTED.items())
def test_neighbours_of_one_network_are_counted_as_one(address: str, expected: str) -> None:
    request = HttpRequest()
    request.META["REMOTE_ADDR"] = address
    assert asked_from(request) == expected
