"""Checking what a person answered about their shop. Each check gives the cleaned answer or raises `Wrong`."""

import re
import unicodedata
import zoneinfo
from pathlib import Path
from urllib.parse import urlsplit

UNITS = ("metric", "us")
LEGAL_PROFILES = ("us", "other")
SHORTEST_PASSWORD = 10


class Wrong(Exception):
    """Why an answer will not do, and what would."""


def name(text: str) -> str:
    if not text:
        raise Wrong("A shop needs a name.")
    if len(text) > 120:
        raise Wrong("At most 120 characters, please.")
    return text


def slug(text: str) -> str:
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", text) or len(text) > 40:
        raise Wrong("Use a to z, 0 to 9 and single hyphens between them; at most 40 characters.")
    return text


def slug_from(shop_name: str) -> str:
    """A suggestion: "Kiln Lane Film" gives "kiln-lane-film"."""
    plain = unicodedata.normalize("NFKD", shop_name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40].strip("-") or "shop"


def public_url(text: str) -> str:
    """Empty is allowed: it can be set later, and until then nothing can be handed over."""
    if not text:
        return ""
    parts = urlsplit(text if "://" in text else f"https://{text}")
    if parts.scheme != "https":
        raise Wrong("It must start with https://, since customers' certificates point to it.")
    if (
        not is_host(parts.hostname or "")
        or parts.username
        or has_path(parts.path, parts.query, parts.fragment)
    ):
        raise Wrong("Only the address of the server, like https://warranty.shop.example")
    return f"https://{parts.netloc.lower()}"


def is_host(host: str) -> bool:
    labels = host.split(".")
    return len(labels) > 1 and all(re.fullmatch(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?", one) for one in labels)


def has_path(path: str, query: str, fragment: str) -> bool:
    return bool(path.strip("/") or query or fragment)


def time_zone(text: str) -> str:
    known = zoneinfo.available_timezones()
    if known and text not in known:
        near = [zone for zone in sorted(known) if text.lower().replace(" ", "_") in zone.lower()][:5]
        hint = (
            f" Did you mean {', '.join(near)}?" if text and near else " Like Europe/Berlin or America/Denver."
        )
        raise Wrong(f"No time zone is called {text!r}.{hint}")
    return text


def time_zone_here(etc: Path = Path("/etc")) -> str:
    """The zone of this machine as a suggestion; UTC when it does not say."""
    try:
        linked = (etc / "localtime").resolve().as_posix()
        zone = linked.partition("zoneinfo/")[2] or (etc / "timezone").read_text().strip()
    except OSError:
        return "UTC"
    return zone if zone in zoneinfo.available_timezones() and not zone.startswith("Etc/") else "UTC"


def units(text: str) -> str:
    return one_of(text, UNITS)


def legal_profile(text: str) -> str:
    return one_of(text, LEGAL_PROFILES)


def one_of(text: str, choices: tuple[str, ...]) -> str:
    if text.lower() not in choices:
        raise Wrong(f"Choose one of: {', '.join(choices)}.")
    return text.lower()


def email(text: str) -> str:
    if not re.fullmatch(r"[^\s@<>()]+@[^\s@<>()]+\.[^\s@.<>()]+", text) or len(text) > 254:
        raise Wrong("That is not an e-mail address.")
    return text


def password(text: str) -> str:
    if len(text) < SHORTEST_PASSWORD:
        raise Wrong(f"At least {SHORTEST_PASSWORD} characters, please; a few unrelated words are good.")
    return text
