"""Installing what is missing through the system's package manager, after saying what will run."""

import shlex
from collections.abc import Sequence

from .machine import Machine
from .screen import Refusal, Say, say
from .system_needs import Need, missing

Command = tuple[str, ...]
APT = ("env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-o", "DPkg::Lock::Timeout=300", "-q")
INSTALL = ("install", "-y", "--no-install-recommends")
# Debian's package would otherwise make a database cluster and start it with every boot.
NO_CLUSTER = (
    "sed",
    "-i",
    "s/^#\\?create_main_cluster.*/create_main_cluster = false/",
    "/etc/postgresql-common/createcluster.conf",
)


def see_to(needs: Sequence[Need], machine: Machine, tell: Say = say) -> None:
    """Installs what is missing, or refuses with the one line to type."""
    absent = missing(needs)
    if not absent:
        return tell("System packages", "all there")
    for need in absent:
        tell("System packages", f"{name_of(need, machine)} is missing ({need.why})")
    prefix = may_install(machine)
    if prefix is None:
        raise Refusal(
            f"Please type this line, then run the same command again:\n\n    {to_type(absent, machine)}\n"
        )
    run_all(commands(absent, prefix), machine, tell)
    if still := missing(absent):
        raise Refusal(f"Still missing after the installation: {packages(still, machine)}")


def may_install(machine: Machine) -> Command | None:
    """What to put before a command to run it as root; None when we may not."""
    if machine.system != "Linux" or not machine.has("apt-get"):
        return None
    if machine.is_root:
        return ()
    if not machine.has("sudo"):
        return None
    if machine.run_quietly(("sudo", "-n", "true")) == 0:
        return ("sudo", "-n")
    return ("sudo",) if machine.is_interactive else None


def commands(needs: Sequence[Need], prefix: Command) -> list[Command]:
    names = [need.debian for need in needs]
    first = [(*prefix, *APT, "update")]
    if "postgresql" in names:
        first += [(*prefix, *APT, *INSTALL, "postgresql-common"), (*prefix, *NO_CLUSTER)]
    return [*first, (*prefix, *APT, *INSTALL, *names)]


def run_all(steps: Sequence[Command], machine: Machine, tell: Say) -> None:
    for step in steps:
        tell("System packages", f"running: {shlex.join(step)}")
        failed = machine.run(step) != 0
        if failed and step[-1] != "update":  # an old list of packages may still do
            raise Refusal(f"This command failed; its reason stands above:\n\n    {shlex.join(step)}\n")


def name_of(need: Need, machine: Machine) -> str:
    return need.homebrew if machine.system == "Darwin" else need.debian


def packages(needs: Sequence[Need], machine: Machine) -> str:
    return " ".join(dict.fromkeys(name_of(need, machine) for need in needs))


def to_type(needs: Sequence[Need], machine: Machine) -> str:
    names = packages(needs, machine)
    if machine.system == "Darwin":
        return f"brew install {names}"
    line = f"apt-get update && apt-get install -y --no-install-recommends {names}"
    if not machine.has("apt-get"):
        return f"(with this system's package manager, the equivalents of Debian's) {names}"
    if machine.has("sudo"):
        return line.replace("apt-get", "sudo apt-get")
    return f"su -c {shlex.quote(line)}"
