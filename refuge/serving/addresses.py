"""Where the site can be reached, and whether the port for it is free."""

import errno
import socket

from refuge.environment import lan_addresses
from refuge.serving.errors import StartRefused

EVERYWHERE = {"0.0.0.0", "::", ""}
LOOPBACK = {"127.0.0.1", "::1", "localhost"}


def own_address(host: str, port: int) -> str:
    """The address for a browser on this machine."""
    name = "localhost" if host in EVERYWHERE | LOOPBACK else host
    return f"http://{bracketed(name)}:{port}"


def network_addresses(host: str, port: int) -> list[str]:
    """The addresses for a phone in the same network; none when only this machine is answered."""
    if host not in EVERYWHERE:
        return []
    return [f"http://{address}:{port}" for address in lan_addresses()]


def bracketed(host: str) -> str:
    """An IPv6 address as it stands before a port."""
    return f"[{host}]" if ":" in host else host


def check_port(host: str, port: int) -> None:
    """Raises StartRefused, saying what would do, when nothing can listen at `host`:`port`."""
    try:
        _listen(host, port)
    except OSError as error:
        raise StartRefused(_refusal(host, port, error)) from error


def _listen(host: str, port: int) -> None:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        probe.bind((host, port))


def _refusal(host: str, port: int, error: OSError) -> str:
    if error.errno == errno.EADDRINUSE:
        return f"Port {port} is taken by another program; choose a free one, like --port {_free_after(host, port)}."
    if error.errno == errno.EACCES:
        return f"Port {port} needs administrator rights; choose one from 1024 up, like --port 8000."
    return f"This machine cannot listen at {host} port {port} ({error.strerror}); leave --host out to listen everywhere."


def _free_after(host: str, port: int) -> int:
    for candidate in range(port + 1, min(port + 100, 65535)):
        try:
            _listen(host, candidate)
        except OSError:
            continue
        return candidate
    return 0
