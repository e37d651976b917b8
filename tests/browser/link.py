"""A link between phone and server that goes bad on order: refused, swallowed, cut, slow, or answered by a stranger."""

import contextlib
import socket
import struct
import threading
import time

PORTAL = b"<html><title>Welcome</title>Please sign in to use this network</html>"


class Link:
    """A proxy on a port of its own. mode:

    "up"; "refuse" (every connection is reset); "swallow" (taken, never answered); "cut" (the server has the request, the
    phone gets the first cut_after bytes of the answer); "cut_up" (cut_after more bytes of requests go through, then every
    connection is reset); "portal" (status 200 and a page that is not ours).
    """

    def __init__(self, target_port):
        self.target_port, self.mode, self.cut_after, self.delay_s = target_port, "up", 0, 0.0
        self.taken = self.sent_up = 0  # connections; bytes of requests that went through
        self.live = set()
        self.listener = socket.socket()
        self.listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self.listener.bind(("127.0.0.1", 0))
        self.listener.listen(64)
        self.url = f"http://127.0.0.1:{self.listener.getsockname()[1]}"
        threading.Thread(target=self._accept, daemon=True).start()

    def turn(self, mode, cut_after=0):
        """Takes up another mode; connections that are open are ended, so that none lives on in the old one."""
        self.mode, self.cut_after = mode, cut_after
        for one in list(self.live):
            self._reset(one, is_shared=True)

    def close(self):
        self.turn("refuse")
        self.listener.close()

    def _accept(self):
        while True:
            try:
                phone, _ = self.listener.accept()
            except OSError:
                return
            self.taken += 1
            if self.mode == "refuse":
                self._reset(phone)
            else:
                threading.Thread(target=self._portal if self.mode == "portal" else self._serve, args=(phone,),
                                 daemon=True).start()

    def _portal(self, phone):
        with contextlib.suppress(OSError), phone:
            phone.recv(65536)
            phone.sendall(b"HTTP/1.1 200 OK\r\nContent-Type: text/html\r\nConnection: close\r\n"
                          b"Content-Length: %d\r\n\r\n%s" % (len(PORTAL), PORTAL))
            phone.shutdown(socket.SHUT_WR)
            while phone.recv(65536):  # read to the end, or the close resets what was just sent
                pass

    def _serve(self, phone):
        try:
            server = socket.create_connection(("127.0.0.1", self.target_port), 5)
        except OSError:
            self._reset(phone)
            return
        server.settimeout(None)
        self.live |= {phone, server}
        asking = threading.Thread(target=self._pump, args=(phone, server, False), daemon=True)
        asking.start()
        self._pump(server, phone, True)
        asking.join()
        self.live -= {phone, server}
        phone.close()
        server.close()

    def _pump(self, source, sink, is_answer):
        with contextlib.suppress(OSError):
            while data := source.recv(65536):
                if self.mode == "swallow":
                    continue
                if is_answer and self.mode == "cut":
                    sink.sendall(data[:self.cut_after])
                    break
                time.sleep(self.delay_s)  # the delay is what is asked for
                if not is_answer and self.mode == "cut_up":
                    data = data[:self.cut_after]
                    self.cut_after -= len(data)
                sink.sendall(data)
                self.sent_up += 0 if is_answer else len(data)
                if self.mode == "cut_up" and self.cut_after <= 0:
                    self._reset(source if not is_answer else sink, is_shared=True)
                    break
        if is_answer and self.mode == "cut":
            self._reset(sink, is_shared=True)
        for one in (source, sink):
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    @staticmethod
    def _reset(one, is_shared=False):
        """Ends a connection hard; a shared one is only woken, its thread closes it."""
        with contextlib.suppress(OSError):
            one.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        with contextlib.suppress(OSError):
            one.shutdown(socket.SHUT_RDWR)
        if not is_shared:
            one.close()
