"""What every proxy of the tests is made of: a port of its own, a thread for each connection, a hard end."""

import contextlib
import random
import socket
import struct
import threading

# Below those that the system gives to whoever asks for any (from 32,768): a server that is down for a moment would else
# find its port taken by somebody's connection when it comes back.
PORTS = range(12_000, 32_000)


def free_port():
    """A port that nobody listens on now, for a server that is started, killed and started again on it."""
    while True:
        port = random.SystemRandom().choice(PORTS)
        with contextlib.suppress(OSError), socket.socket() as probe:
            probe.bind(("127.0.0.1", port))
            return port


class Proxy:
    """Listens before a server. taken: how many connections there were. Whoever inherits says what is done with one: met."""

    def __init__(self, target_port):
        self.target_port, self.taken = target_port, 0
        self.listener = socket.create_server(("127.0.0.1", 0), backlog=64)
        self.port = self.listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def met(self, phone):
        """Does with a connection what this proxy is for; in a thread of its own."""
        raise NotImplementedError

    def to_server(self, patience_s=None):
        """A new connection to the server; raises OSError."""
        return socket.create_connection(("127.0.0.1", self.target_port), patience_s)

    def close(self):
        """Takes no more connections."""
        self.listener.close()

    def _accept(self):
        while True:
            try:
                phone, _ = self.listener.accept()
            except OSError:
                return
            self.taken += 1
            threading.Thread(target=self.met, args=(phone,), daemon=True).start()


def reset(one, is_shared=False):
    """Ends a connection hard; a shared one is only woken, its thread closes it."""
    with contextlib.suppress(OSError):
        one.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    if is_shared:
        with contextlib.suppress(OSError):
            one.shutdown(socket.SHUT_RDWR)
    else:
        one.close()
