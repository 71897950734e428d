"""`quickstart`: from a fresh checkout to a running shop, and the same again without changing anything."""

import argparse
import os
from collections.abc import Sequence
from pathlib import Path

from . import installation, options, questions, serve, setting_up
from .folder import Checkout, data_folder, make_private
from .questions import FirstShop
from .screen import Refusal, interactive, say

PASSWORD = "SHOPWARRANTY_OWNER_PASSWORD"  # noqa: S105  (the name of a variable)


def quickstart(checkout: Checkout, arguments: Sequence[str]) -> int:
    chosen = options.quickstart(arguments)
    password = os.environ.pop(PASSWORD, "")
    folder = data_folder(checkout)
    with setting_up.alone(checkout):
        shop = first_shop(chosen, folder, password) if chosen.empty else None
        setting_up.set_up(checkout, checkout.lock)
        make_private(folder)
        installation.prepare(checkout, folder)
        notes = fill(checkout, folder, shop, chosen)
    if chosen.no_serve:
        print(notes, end="")
        say("Ready", "start it with: python3 manage.py serve")
        return 0
    return serve.run(checkout, chosen, notes)


def first_shop(
    chosen: argparse.Namespace, folder: Path, password: str, before: FirstShop | None = None
) -> FirstShop | None:
    """Asked before anything is installed, so that nobody has to wait at the terminal."""
    installation.refuse_beside_demo(folder)
    if installation.holds(folder) == installation.REAL:
        return None
    return questions.ask_for_shop(chosen, password, questions.this_terminal(), before)


def fill(checkout: Checkout, folder: Path, shop: FirstShop | None, chosen: argparse.Namespace) -> str:
    """Gives what the person should read at the end: sign-ins of the demo, a link, or what came back."""
    if chosen.restore:
        return installation.restore(checkout, chosen.restore, chosen.pass_phrase_file)
    if shop:
        return make_shop(checkout, folder, shop)
    if installation.holds(folder) == installation.REAL:
        say("Shop", "a real shop is set up here already; manage.py add_shop adds another")
        return ""
    return installation.load_demo(checkout, folder)


def make_shop(checkout: Checkout, folder: Path, shop: FirstShop) -> str:
    while (answer := installation.add_shop(checkout, folder, shop)) is None:
        if not interactive():
            raise Refusal("The shop was not made; the reasons stand above.")
        say("Shop", "please answer once more; all but the password is kept")
        # The password too: it may be what was refused.
        shop = questions.ask_for_shop(questions.NOTHING_GIVEN, "", questions.this_terminal(), shop)
    return answer
