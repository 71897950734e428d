"""How the programs are started, for one machine and for the bay's phones."""

import hashlib
import ssl
import subprocess
import urllib.request
from pathlib import Path

import pytest

from shopwarranty.checkout import authority, handout, installation, lan, options, serve, testing
from shopwarranty.checkout.folder import Checkout
from shopwarranty.checkout.ports import next_free
from shopwarranty.checkout.questions import FirstShop
from shopwarranty.checkout.screen import Refusal
from shopwarranty.checkout.serving import WORKER, Pair, Place, programs

SPACED = Checkout(Path("/srv/the shop"))
NAMES = ["192.168.20.7", "bay.local", "localhost", "127.0.0.1"]


def test_arguments_with_spaces_stay_whole() -> None:
    web, worker = programs(SPACED, Place("127.0.0.1", 8000))
    assert web.argv[0] == worker.argv[0] == "/srv/the shop/.venv/bin/python"
    assert worker.argv[1:] == ("/srv/the shop/manage.py", "qcluster")
    assert web.folder == Path("/srv/the shop")


def test_only_this_machine_can_reach_the_server_unless_the_network_is_asked_for() -> None:
    assert serve.place_for(SPACED, options.serve([])).host == "127.0.0.1"
    assert serve.place_for(SPACED, options.serve(["--lan"])).host == "0.0.0.0"


def test_the_network_names_are_added_to_those_the_server_answers_to(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SHOPWARRANTY_HOSTS", "kiln.example,localhost")
    web, worker = programs(SPACED, Place("0.0.0.0", 8000, ("192.168.20.7", "localhost")))
    assert web.environment["SHOPWARRANTY_HOSTS"] == "kiln.example,localhost,192.168.20.7"
    assert worker.environment == web.environment
    assert "SHOPWARRANTY_HTTPS" not in web.environment


def test_with_a_certificate_the_server_speaks_https_and_the_settings_know() -> None:
    place = Place("0.0.0.0", 8443, ("192.168.20.7",), Pair(Path("/a b/c.crt"), Path("/a b/c.key")))
    web = programs(SPACED, place)[WORKER - 1]
    assert web.argv[-4:] == ("--certfile", "/a b/c.crt", "--keyfile", "/a b/c.key")
    assert web.environment["SHOPWARRANTY_HTTPS"] == "true"
    assert web.environment["SHOPWARRANTY_HSTS_SECONDS"] == "0"
    assert place.address("192.168.20.7") == "https://192.168.20.7:8443/"


def test_without_https_the_page_of_a_phone_cannot_work_offline_and_that_is_said(
    capsys: pytest.CaptureFixture[str],
) -> None:
    serve.announce(
        Place("0.0.0.0", 8001, ("192.168.20.7", "bay.local")), "Sign in at http://127.0.0.1:8000/\n"
    )
    said = capsys.readouterr().out
    assert "http://192.168.20.7:8001/" in said
    assert serve.NO_OFFLINE in said
    assert "Sign in at http://localhost:8001/" in said


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        (["--https"], "add --lan"),
        (["--certfile", "a.crt"], "go together"),
        (["--certfile", "/nowhere/a.crt", "--keyfile", "/nowhere/a.key"], "no file /nowhere/a.crt"),
    ],
)
def test_halves_of_a_certificate_are_refused(arguments: list[str], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        serve.place_for(SPACED, options.serve(arguments))


def test_our_own_addresses_are_never_the_loopback() -> None:
    assert not any(address.startswith("127.") for address in lan.addresses())
    assert lan.local_name().endswith(".local")


# --- the certificate of the bay, judged by openssl (RFC 5280 path validation and name constraints)


def verified(folder: Path, name: str, value: str) -> bool:
    ask = ["openssl", "verify", "-x509_strict", "-purpose", "sslserver", f"-verify_{name}", value]
    done = subprocess.run(
        [*ask, "-CAfile", str(folder / "authority.crt"), str(folder / "server.crt")],
        capture_output=True,
        text=True,
    )
    return done.returncode == 0


def test_a_phone_that_trusts_the_authority_trusts_the_server(tmp_path: Path) -> None:
    authority.see_to(tmp_path, NAMES)
    assert verified(tmp_path, "ip", "192.168.20.7")
    assert verified(tmp_path, "hostname", "bay.local")
    assert not verified(tmp_path, "ip", "192.168.20.8")
    assert not verified(tmp_path, "hostname", "shop.example")


@pytest.mark.parametrize("outside", ["shop.example", "203.0.113.9"])
def test_the_authority_is_good_for_nothing_outside_the_shops_network(tmp_path: Path, outside: str) -> None:
    authority.see_to(tmp_path, [outside])
    assert not verified(tmp_path, "ip" if outside[0].isdigit() else "hostname", outside)


def test_only_names_that_the_authority_may_vouch_for_are_put_into_the_certificate() -> None:
    names = [
        "192.168.20.7",
        "172.31.255.1",
        "bay.local",
        "192.0.2.2",
        "172.32.0.1",
        "203.0.113.9",
        "shop.example",
    ]
    assert [name for name in names if authority.may_vouch_for(name)] == names[:3]


def test_keys_are_closed_to_others_and_everything_is_kept_the_second_time(tmp_path: Path) -> None:
    pair = authority.see_to(tmp_path, NAMES)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert authority.see_to(tmp_path, NAMES) == pair
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
    assert all(path.stat().st_mode & 0o077 == 0 for path in tmp_path.glob("*.key"))


def test_a_new_address_makes_a_new_certificate_under_the_same_authority(tmp_path: Path) -> None:
    authority.see_to(tmp_path, NAMES)
    trusted = (tmp_path / "authority.crt").read_bytes()
    authority.see_to(tmp_path, ["192.168.20.99", *NAMES[1:]])
    assert (tmp_path / "authority.crt").read_bytes() == trusted
    assert verified(tmp_path, "ip", "192.168.20.99")


def test_phones_fetch_the_certificate_whose_fingerprint_is_shown(tmp_path: Path) -> None:
    authority.see_to(tmp_path, NAMES)
    certificate = tmp_path / "authority.crt"
    port = next_free(18000)
    server = handout.start(certificate, "127.0.0.1", port)
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/") as answer:
        fetched = answer.read().decode()
    server.shutdown()
    server.server_close()
    digest = hashlib.sha256(ssl.PEM_cert_to_DER_cert(fetched)).hexdigest().upper()
    assert authority.fingerprint(certificate).replace(":", "") == digest


# --- the demo shop and a real one are never mixed


def test_a_real_shop_is_not_started_beside_the_demo(tmp_path: Path) -> None:
    installation.refuse_beside_demo(tmp_path)
    installation.mark(tmp_path, installation.DEMO)
    with pytest.raises(Refusal, match="SHOPWARRANTY_DATA_DIR"):
        installation.refuse_beside_demo(tmp_path)


def test_the_public_address_is_kept_in_the_settings(tmp_path: Path) -> None:
    shop = FirstShop("Kiln", "kiln", "https://kiln.example:8443", "UTC", "us", "us", "owner@kiln.example")
    installation.write_settings(tmp_path, shop)
    lines = (tmp_path / "settings.env").read_text().splitlines()
    assert "SHOPWARRANTY_HOSTS=localhost,127.0.0.1,[::1],kiln.example" in lines
    assert "SHOPWARRANTY_PUBLIC_URL=https://kiln.example:8443" in lines


# --- the command for the tests


def test_everything_after_test_goes_to_pytest() -> None:
    here = Checkout(Path.cwd())
    assert testing.pytest_arguments(here, ["-k", "a b", "-x"]) == ("-k", "a b", "-x")
    assert testing.pytest_arguments(here, [])[0] == "-n"


def test_a_path_typed_in_another_folder_means_that_path(tmp_path: Path) -> None:
    (tmp_path / "test_one.py").touch()
    assert (
        testing.from_root("test_one.py::test_a", tmp_path, SPACED.root) == f"{tmp_path}/test_one.py::test_a"
    )
    assert testing.from_root("test_two.py", tmp_path, SPACED.root) == "test_two.py"
    assert testing.from_root("-x", tmp_path, SPACED.root) == "-x"


def test_the_settings_of_this_machine_do_not_reach_the_tests(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SHOPWARRANTY_PUBLIC_URL", "https://kiln.example")
    environment = testing.test_environment(Checkout(tmp_path))
    assert "SHOPWARRANTY_PUBLIC_URL" not in environment
    assert environment["SHOPWARRANTY_DATA_DIR"] == str(tmp_path / "var" / "tests")
