import errno
import os
import socket

import pytest

from refuge.serving import addresses
from refuge.serving.errors import StartRefused


@pytest.mark.parametrize(
    ("host", "expected"),
    [
        ("0.0.0.0", "http://localhost:8000"),
        ("127.0.0.1", "http://localhost:8000"),
        ("192.168.1.20", "http://192.168.1.20:8000"),
        ("fd00::20", "http://[fd00::20]:8000"),
    ],
)
def test_the_address_for_this_machine(host, expected):
    assert addresses.own_address(host, 8000) == expected


def test_a_site_for_this_machine_alone_offers_a_phone_nothing():
    assert addresses.network_addresses("127.0.0.1", 8000) == []


def test_no_address_offered_to_a_phone_is_this_machine_talking_to_itself():
    assert not any("127." in address for address in addresses.network_addresses("0.0.0.0", 8000))


def test_a_port_that_has_just_been_left_can_be_taken_again():
    with socket.socket() as server:
        server.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        server.bind(("127.0.0.1", 0))
        server.listen()
        port = server.getsockname()[1]
        client = socket.create_connection(("127.0.0.1", port))
        accepted, _ = server.accept()
        accepted.close()  # the side that closes first leaves the port waiting
        client.close()
    addresses.check_port("127.0.0.1", port)


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (errno.EACCES, "Port 80 needs administrator rights; choose one from 1024 up"),
        (errno.EADDRNOTAVAIL, "This machine cannot listen at 10.9.8.7 port 80"),
    ],
)
def test_why_a_port_cannot_be_had(monkeypatch, number, said):
    def refuse(host, port):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(addresses, "_listen", refuse)
    with pytest.raises(StartRefused, match=said):
        addresses.check_port("10.9.8.7", 80)
