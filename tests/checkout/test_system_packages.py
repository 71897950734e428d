"""Common practice of Debian's package manager, no source: `apt-get install -y` by root or through sudo."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import pytest

from shopwarranty.checkout.machine import Machine
from shopwarranty.checkout.screen import Refusal
from shopwarranty.checkout.system_needs import TO_RUN, TO_TEST, Need, has_library, has_venv
from shopwarranty.checkout.system_packages import commands, may_install, see_to, to_type


@dataclass
class Shelf:
    """System packages that are there once apt-get was asked for them."""

    there: set[str] = field(default_factory=set)
    ran: list[tuple[str, ...]] = field(default_factory=list)
    installs: bool = True
    fails: bool = False

    def need(self, package: str, homebrew: str = "pango") -> Need:
        return Need(package, homebrew, "a reason", lambda: package in self.there)

    def run(self, argv: Sequence[str]) -> int:
        self.ran.append(tuple(argv))
        if self.installs and "install" in argv:
            self.there.update(argv)
        return 1 if self.fails else 0


def machine(
    shelf: Shelf,
    *,
    system: str = "Linux",
    root: bool = False,
    person: bool = False,
    has: tuple[str, ...] = ("apt-get", "sudo"),
    sudo_without_password: bool = False,
) -> Machine:
    quiet = 0 if sudo_without_password else 1
    return Machine(system, root, person, lambda name: name in has, shelf.run, lambda _: quiet)


def quiet(what: str, text: str) -> None:
    """Says nothing."""


def test_nothing_is_run_when_all_is_there() -> None:
    shelf = Shelf(there={"a"})
    see_to([shelf.need("a")], machine(shelf, root=True), quiet)
    assert shelf.ran == []


def test_root_installs_what_is_missing_and_nothing_else() -> None:
    shelf = Shelf(there={"a"})
    see_to([shelf.need("a"), shelf.need("b")], machine(shelf, root=True), quiet)
    update, install = shelf.ran
    assert update[-1] == "update"
    assert install[-3:] == ("-y", "--no-install-recommends", "b")
    assert "sudo" not in install


def test_what_will_run_is_said_before_it_runs() -> None:
    shelf, said = Shelf(), list[str]()

    def tell(what: str, text: str) -> None:
        said.append(f"{len(shelf.ran)}: {text}")

    see_to([shelf.need("b")], machine(shelf, root=True), tell)
    assert any(line.startswith("1: running:") and line.endswith(" b") for line in said)


@pytest.mark.parametrize(
    ("root", "person", "without_password", "has", "prefix"),
    [
        (True, False, False, ("apt-get",), ()),
        (False, False, True, ("apt-get", "sudo"), ("sudo", "-n")),
        (False, True, False, ("apt-get", "sudo"), ("sudo",)),
        (False, False, False, ("apt-get", "sudo"), None),
        (False, True, False, ("apt-get",), None),
        (True, True, False, (), None),
    ],
)
def test_who_may_install_depends_on_root_sudo_and_a_person_at_the_terminal(
    root: bool, person: bool, without_password: bool, has: tuple[str, ...], prefix: tuple[str, ...] | None
) -> None:
    here = machine(Shelf(), root=root, person=person, has=has, sudo_without_password=without_password)
    assert may_install(here) == prefix


def test_without_the_right_it_stops_with_one_line_to_type() -> None:
    shelf = Shelf()
    with pytest.raises(Refusal) as refused:
        see_to([shelf.need("a"), shelf.need("b")], machine(shelf), quiet)
    lines = [line.strip() for line in str(refused.value).splitlines() if "apt-get" in line]
    assert lines == ["sudo apt-get update && sudo apt-get install -y --no-install-recommends a b"]
    assert shelf.ran == []


def test_without_sudo_the_line_uses_the_password_of_root() -> None:
    shelf = Shelf()
    line = to_type([shelf.need("a")], machine(shelf, has=("apt-get",)))
    assert line == "su -c 'apt-get update && apt-get install -y --no-install-recommends a'"


def test_on_macos_the_line_is_homebrews_and_names_each_package_once() -> None:
    shelf = Shelf()
    here = machine(shelf, system="Darwin", has=())
    with pytest.raises(Refusal, match="brew install pango\n"):
        see_to([shelf.need("a"), shelf.need("b")], here, quiet)


def test_an_old_list_of_packages_does_not_stop_the_installation_but_a_failed_installation_does() -> None:
    shelf = Shelf(fails=True)
    with pytest.raises(Refusal, match=r"apt-get .* install -y"):
        see_to([shelf.need("b")], machine(shelf, root=True), quiet)
    assert [step[-1] for step in shelf.ran] == ["update", "b"]


def test_what_is_still_missing_afterwards_is_named() -> None:
    shelf = Shelf(installs=False)
    with pytest.raises(Refusal, match="Still missing after the installation: b"):
        see_to([shelf.need("b")], machine(shelf, root=True), quiet)


def test_postgresql_is_installed_without_a_server_that_starts_at_every_boot() -> None:
    steps = commands([Shelf().need("postgresql")], ())
    assert [step[-1] for step in steps] == [
        "update",
        "postgresql-common",
        "/etc/postgresql-common/createcluster.conf",
        "postgresql",
    ]


def test_this_machine_has_what_the_suite_needs_to_run() -> None:
    assert has_venv()
    assert [need.debian for need in TO_RUN if not need.is_there()] == []
    assert {need.debian for need in TO_TEST} >= {
        "chromium",
        "poppler-utils",
        "zbar-tools",
        "qpdf",
        "postgresql",
    }


def test_a_library_that_nobody_has_is_missing() -> None:
    assert not has_library("shopwarranty-nobody-has-this")
