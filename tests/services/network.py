"""Machines of our own on a network of our own: network namespaces, joined by one switch.

Nothing in them reaches the machine's own network, and the machine's network does not reach them. A
process that is started inside one stays there; files and sockets in folders are common to all.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cache
from itertools import count
from pathlib import Path

NAMESPACES = Path("/run/netns")
_NUMBERS = count()
_CLONE_NEWNET = 0x40000000
_libc = ctypes.CDLL(None, use_errno=True)


class NoNetworkError(Exception):
    """This machine makes no network namespaces, or not for this account."""


def _program() -> str:
    found = shutil.which("ip", path=f"{os.environ.get('PATH', '')}:/sbin:/usr/sbin")
    if found is None:
        raise NoNetworkError("the program ip is not installed (Debian's package iproute2)")
    return found


def _ip(*commands: str) -> None:
    """Run commands of `ip`; all of them in one process."""
    done = subprocess.run(
        [_program(), "-batch", "-"],
        input="\n".join(commands),
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise NoNetworkError(f"network namespaces cannot be made here: {done.stderr.strip()}")


@cache
def missing() -> str | None:
    """Why no network of our own can be made here, or nothing: tried out, by making a small one."""
    try:
        with joined("probe") as network, network.inside("probe"):
            return None
    except (NoNetworkError, OSError) as error:
        return str(error)


@dataclass(frozen=True)
class Network:
    """Machines by name, each with an address."""

    prefix: str
    addresses: dict[str, str]

    @contextmanager
    def inside(self, name: str) -> Iterator[None]:
        """Let this thread be on that machine, with what it opens and starts there."""
        own = os.open("/proc/thread-self/ns/net", os.O_RDONLY)
        other = os.open(NAMESPACES / f"{self.prefix}{name}", os.O_RDONLY)
        try:
            _enter(other)
            try:
                yield
            finally:
                _enter(own)
        finally:
            os.close(other)
            os.close(own)

    def cut_off(self, name: str) -> None:
        """Pull the machine's plug: nobody is told, packets are lost from now on."""
        self._set(name, "down")

    def connect(self, name: str) -> None:
        """Put it back."""
        self._set(name, "up")

    def _set(self, name: str, state: str) -> None:
        switch = f"{self.prefix}switch"
        subprocess.run(
            [_program(), "-netns", switch, "link", "set", _port(name), state], check=True
        )


def _enter(descriptor: int) -> None:
    if _libc.setns(descriptor, _CLONE_NEWNET):
        number = ctypes.get_errno()
        raise OSError(number, f"cannot enter a network namespace: {os.strerror(number)}")


def _port(name: str) -> str:
    """The switch's end of a machine's line."""
    return f"to-{name}"


@contextmanager
def joined(*names: str) -> Iterator[Network]:
    """Machines that reach each other and nobody else, until the block ends."""
    prefix = f"fleetdoors-{os.getpid()}-{next(_NUMBERS)}-"
    switch = f"{prefix}switch"
    network = Network(prefix, {name: f"10.77.0.{at}" for at, name in enumerate(names, 2)})
    made = [switch, *(f"{prefix}{name}" for name in names)]
    try:
        _ip(*(f"netns add {each}" for each in made))
        _in(switch, "link add switch type bridge", "link set switch up")
        for name, address in network.addresses.items():
            machine = f"{prefix}{name}"
            _in(switch, f"link add {_port(name)} type veth peer name line netns {machine}")
            _in(switch, f"link set {_port(name)} master switch", f"link set {_port(name)} up")
            _in(machine, f"address add {address}/24 dev line", "link set line up", "link set lo up")
        yield network
    finally:
        for each in made:
            with suppress(NoNetworkError):
                _ip(f"netns delete {each}")


def _in(namespace: str, *commands: str) -> None:
    for command in commands:
        done = subprocess.run(
            [_program(), "-netns", namespace, *command.split()],
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            raise NoNetworkError(f"ip {command}: {done.stderr.strip()}")
