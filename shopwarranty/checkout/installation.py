"""What a data folder holds: nothing yet, the demo shop, or a real one. The two are never mixed,
because everybody knows how to sign in to the demo shop."""

import hashlib
import os
import subprocess
from pathlib import Path
from urllib.parse import urlsplit

from . import settings_file
from .folder import Checkout
from .questions import FirstShop
from .screen import Refusal, say
from .stamp import clean_environment

MARK = "holds"
DEMO, REAL = "demo", "real"
REFUSED = 2
HEADING = """Written by quickstart --empty. The environment wins over this file.
Behind a web server that speaks https for the public address, set these too:
SHOPWARRANTY_HTTPS=true and SHOPWARRANTY_PROXY=true"""


def holds(folder: Path) -> str:
    mark = folder / MARK
    return mark.read_text().strip() if mark.exists() else ""


def mark(folder: Path, what: str) -> None:
    (folder / MARK).write_text(what + "\n")


def refuse_beside_demo(folder: Path) -> None:
    if holds(folder) == DEMO:
        raise Refusal(
            f"{folder} holds the demo shop, and everybody knows how to sign in to it. Start the real shop in"
            " another folder, for good:\n\n"
            "    export SHOPWARRANTY_DATA_DIR=/path/to/its/folder\n\n"
            "(or move the demo's folder away), then run quickstart --empty again."
        )


def django(checkout: Checkout, *arguments: str, given: str = "") -> "subprocess.CompletedProcess[str]":
    """Runs one of Django's commands; its errors go to the terminal, its answer comes back."""
    return subprocess.run(
        [str(checkout.python), str(checkout.manage), *arguments],
        env=clean_environment(),
        input=given,
        stdout=subprocess.PIPE,
        text=True,
        check=False,
    )


def must(checkout: Checkout, *arguments: str) -> str:
    done = django(checkout, *arguments)
    if done.returncode:
        raise Refusal(f"{done.stdout}manage.py {arguments[0]} failed; its reason stands above.")
    return done.stdout


def prepare(checkout: Checkout, folder: Path) -> None:
    must(checkout, "migrate", "--verbosity", "0", "--no-input")
    say("Database", "up to date")
    seen = folder / "static.collected"
    if not (seen.exists() and seen.read_text() == static_state(checkout, folder)):
        must(checkout, "collectstatic", "--verbosity", "0", "--no-input")
        seen.write_text(static_state(checkout, folder))
    say("Page furniture", "in place")


def static_state(checkout: Checkout, folder: Path) -> str:
    """Changes when a style sheet, script or picture does, or the packages that bring their own."""
    target = Path(os.environ.get("SHOPWARRANTY_STATIC_DIR") or folder / "static")
    state = hashlib.sha256(f"{target} {(target / 'staticfiles.json').exists()}".encode())
    state.update(checkout.lock.read_bytes())
    for path in sorted(checkout.root.glob("shopwarranty/*/static/**/*")):
        if path.is_file():
            state.update(str(path.relative_to(checkout.root)).encode() + path.read_bytes())
    return state.hexdigest()


def load_demo(checkout: Checkout, folder: Path) -> str:
    """Gives the sign-ins that `load_demo` prints; an existing demo shop stays as it is."""
    if not (checkout.root / "shopwarranty/demo/management/commands/load_demo.py").exists():
        say("Demo shop", "skipped: this checkout has no load_demo command yet")
        return ""
    answer = must(checkout, "load_demo")
    mark(folder, DEMO)
    say("Demo shop", "there")
    return answer


def restore(checkout: Checkout, file: str, pass_phrase_file: str | None) -> str:
    """Gives what `restore` printed: that everything is there."""
    more = ("--pass-phrase-file", pass_phrase_file) if pass_phrase_file else ()
    answer = must(checkout, "restore", file, *more)
    say("Backup", "brought back")
    return answer


def add_shop(checkout: Checkout, folder: Path, shop: FirstShop) -> str | None:
    """Gives what `add_shop` printed, or None when it refused and said why."""
    password = ("--password-stdin",) if shop.password else ()
    done = django(checkout, "add_shop", *shop.options(), *password, given=shop.password)
    if done.returncode == REFUSED:
        return None
    if done.returncode:
        raise Refusal(f"{done.stdout}The shop was not made; the reason stands above.")
    mark(folder, REAL)
    write_settings(folder, shop)
    say("Shop", f"{shop.name} is there, its pages are under /s/{shop.slug}/")
    return done.stdout


def write_settings(folder: Path, shop: FirstShop) -> None:
    if host := urlsplit(shop.public_url).hostname:
        values = {
            "SHOPWARRANTY_HOSTS": f"localhost,127.0.0.1,[::1],{host}",
            "SHOPWARRANTY_PUBLIC_URL": shop.public_url,
        }
        path = settings_file.write(folder, values, HEADING)
        say("Settings", f"written to {path}")
