"""The options of the commands that work before Django does."""

import argparse
from collections.abc import Sequence

from .ports import FIRST, LAST

DEFAULT_PORT = 8000


def port(text: str) -> int:
    if not text.isdigit() or not FIRST <= int(text) <= LAST:
        raise argparse.ArgumentTypeError(f"{text!r} is not a port ({FIRST} to {LAST})")
    return int(text)


def quickstart(arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="manage.py quickstart",
        allow_abbrev=False,
        description="Sets everything up, loads the demo shop and starts the web server and the worker."
        " Running it again changes nothing and loses nothing.",
    )
    parser.add_argument("--no-serve", action="store_true", help="set up, but start nothing")
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--empty", action="store_true", help="start a real shop instead of the demo shop")
    what.add_argument("--restore", metavar="FILE", help="bring a backup back instead of the demo shop")
    parser.add_argument("--pass-phrase-file", metavar="FILE", help="with --restore: as for manage.py restore")
    add_serving(parser)
    add_first_shop(parser)
    return parser.parse_args(arguments)


def serve(arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="manage.py serve",
        allow_abbrev=False,
        description="Starts the web server and the worker; Ctrl-C stops both.",
    )
    add_serving(parser)
    return parser.parse_args(arguments)


def add_serving(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--port", type=port, default=DEFAULT_PORT, help=f"default {DEFAULT_PORT}")
    parser.add_argument("--lan", action="store_true", help="let the phones and tablets of the bay in")
    parser.add_argument(
        "--https",
        action="store_true",
        help="with --lan: make a certificate that the shop's phones can be told to trust",
    )
    parser.add_argument("--certfile", help="with --keyfile: a certificate of your own (PEM, with its chain)")
    parser.add_argument("--keyfile", help="the key of --certfile (PEM)")


def add_first_shop(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("with --empty", "whatever is not given is asked for")
    group.add_argument("--name", help="the shop's name, as customers know it")
    group.add_argument("--slug", help="its name in addresses: a-z, 0-9 and -")
    group.add_argument("--public-url", help="https address at which customers reach it")
    group.add_argument("--time-zone", help="like Europe/Berlin")
    group.add_argument("--units", help="metric or us")
    group.add_argument("--legal-profile", help="us or other")
    group.add_argument("--owner", help="the owner's e-mail address, to sign in with")
