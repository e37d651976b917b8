"""A van's link: a TCP proxy of 150 ms round trip and 2 Mbit/s each way, shared by all its connections.

A connection costs one round trip before its first byte passes, as a real one's handshake does; loss is not modelled.
"""

import contextlib
import queue
import socket
import threading
import time

from tests import proxying

ROUND_TRIP_S = 0.150
BITS_PER_S = 2_000_000
PIECE = 1_460


class Lane:
    """One direction: bytes leave one after the other at the link's rate and arrive half a round trip later."""

    def __init__(self):
        self.lock, self.free_at, self.bytes = threading.Lock(), 0.0, 0

    def arrival(self, size):
        """When a piece of that size, offered now, has arrived."""
        with self.lock:
            self.free_at = max(time.monotonic(), self.free_at) + size * 8 / BITS_PER_S
            self.bytes += size
            return self.free_at + ROUND_TRIP_S / 2


class Van(proxying.Proxy):
    """The proxy before one server. up, down: its lanes."""

    def __init__(self, target_port):
        self.up, self.down = Lane(), Lane()
        super().__init__(target_port)

    def met(self, phone):
        """Passes everything on, late and slowly."""
        server = self.to_server()
        opened = time.monotonic() + ROUND_TRIP_S
        for source, sink, lane in ((phone, server, self.up), (server, phone, self.down)):
            pieces = queue.Queue()
            threading.Thread(target=_read, args=(source, lane, pieces, opened), daemon=True).start()
            threading.Thread(target=_write, args=(sink, pieces), daemon=True).start()


def _read(source, lane, pieces, opened):
    with contextlib.suppress(OSError):
        while data := source.recv(PIECE):
            if time.monotonic() < opened:
                time.sleep(max(0.0, opened - time.monotonic()))  # the handshake of the link itself
            pieces.put((lane.arrival(len(data)), data))
    pieces.put((time.monotonic() + ROUND_TRIP_S / 2, None))


def _write(sink, pieces):
    with contextlib.suppress(OSError):
        while True:
            at, data = pieces.get()
            time.sleep(max(0.0, at - time.monotonic()))  # the delay is the link itself
            if data is None:
                return sink.shutdown(socket.SHUT_WR)
            sink.sendall(data)
