"""What must come from the system's own packages, and how we see that it is there."""

import ctypes
import ctypes.util
import glob
import importlib.util
import platform
import shutil
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass

CHROMIUM = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
MAC_CHROMIUM = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
)
MAC_LIBRARIES = ("/opt/homebrew/lib", "/usr/local/lib")


@dataclass(frozen=True, slots=True)
class Need:
    debian: str
    homebrew: str
    why: str
    is_there: Callable[[], bool]


def has_library(name: str, number: str = "0") -> bool:
    """Whether the dynamic linker finds the library, whichever package it came from."""
    if platform.system() == "Darwin":
        found = (glob.glob(f"{folder}/lib{name}*.dylib") for folder in MAC_LIBRARIES)
        return any(found) or ctypes.util.find_library(name) is not None
    try:
        ctypes.CDLL(f"lib{name}.so.{number}")
    except OSError:
        return False
    return True


def has_program(*names: str) -> bool:
    return any(shutil.which(name) for name in names)


def has_file(*patterns: str) -> bool:
    return any(glob.glob(pattern) for pattern in patterns)


def has_venv() -> bool:
    return all(importlib.util.find_spec(name) for name in ("venv", "ensurepip"))


def library(package: str, name: str, why: str) -> Need:
    return Need(package, "pango", why, lambda: has_library(name))


def program(debian: str, homebrew: str, why: str, *names: str) -> Need:
    return Need(debian, homebrew, why, lambda: has_program(*names))


TO_RUN: tuple[Need, ...] = (
    Need(
        f"python{sys.version_info.major}.{sys.version_info.minor}-venv",
        "python",
        "to keep our packages in a folder of their own",
        has_venv,
    ),
    library("libpango-1.0-0", "pango-1.0", "to set the text of certificates"),
    library("libpangoft2-1.0-0", "pangoft2-1.0", "to set the text of certificates"),
    library("libharfbuzz-subset0", "harfbuzz-subset", "to embed fonts in certificates"),
)

TO_TEST: tuple[Need, ...] = (
    Need(
        "chromium",
        "--cask chromium",
        "the browser tests",
        lambda: has_program(*CHROMIUM) or has_file(*MAC_CHROMIUM),
    ),
    Need(
        "libatomic1",
        "gcc",
        "the program that steers the browser",
        lambda: platform.system() == "Darwin" or has_library("atomic", "1"),
    ),
    program("poppler-utils", "poppler", "tests that read certificates back", "pdftotext", "pdftoppm"),
    program("zbar-tools", "zbar", "tests that read QR codes back", "zbarimg"),
    program("libimage-exiftool-perl", "exiftool", "tests that read photos for hidden data", "exiftool"),
    program("qpdf", "qpdf", "tests that check the structure of PDFs", "qpdf"),
    program("gettext", "gettext", "tests that look for words without a translation", "xgettext", "msgfmt"),
    program("khal", "khal", "tests that load the calendar as another program does", "khal"),
    Need(
        "postgresql",
        "postgresql@16",
        "the tests marked for PostgreSQL",
        lambda: has_program("postgres") or has_file("/usr/lib/postgresql/*/bin/postgres"),
    ),
    # Debian's server package starts with every boot; its tools hold the same program under another name.
    program("redis-tools", "redis", "the test of the queue in Redis", "redis-server", "redis-check-rdb"),
    Need(
        "fonts-dejavu-core",
        "--cask font-dejavu",
        "pictures of pages with readable text",
        lambda: platform.system() == "Darwin" or has_file("/usr/share/fonts/truetype/dejavu/*.ttf"),
    ),
)

HTTPS: tuple[Need, ...] = (program("openssl", "openssl", "to make a certificate for the bay", "openssl"),)


def missing(needs: Iterable[Need]) -> tuple[Need, ...]:
    return tuple(need for need in needs if not need.is_there())
