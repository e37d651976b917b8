"""A link between phone and server that goes bad on order: refused, swallowed, cut, slow, or answered by a stranger."""

import contextlib
import socket
import threading
import time

from tests import proxying
from tests.proxying import reset

PORTAL = b"<html><title>Welcome</title>Please sign in to use this network</html>"


class Link(proxying.Proxy):
    """A proxy on a port of its own. mode:

    "up"; "refuse" (every connection is reset); "swallow" (taken, never answered); "cut" (the server has the request, the
    phone gets the first cut_after bytes of the answer); "cut_up" (cut_after more bytes of requests go through, then every
    connection is reset); "short" (a connection is reset once cut_after bytes of answers went through it); "portal" (status
    200 and a page that is not ours).
    """

    def __init__(self, target_port):
        self.mode, self.cut_after, self.delay_s = "up", 0, 0.0
        self.sent_up = 0  # bytes of requests that went through
        self.live = set()
        super().__init__(target_port)
        self.url = f"http://127.0.0.1:{self.port}"

    def turn(self, mode, cut_after=0):
        """Takes up another mode; connections that are open are ended, so that none lives on in the old one."""
        self.mode, self.cut_after = mode, cut_after
        for one in list(self.live):
            reset(one, is_shared=True)

    def close(self):
        """Ends what is open, too."""
        self.turn("refuse")
        super().close()

    def met(self, phone):
        """As the mode says."""
        {"refuse": reset, "portal": self._portal}.get(self.mode, self._serve)(phone)

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
            server = self.to_server(5)
        except OSError:
            reset(phone)
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
        answered = 0
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
                if is_answer and self.mode == "short":
                    data = data[:self.cut_after - answered]
                    answered += len(data)
                sink.sendall(data)
                if is_answer and self.mode == "short" and answered == self.cut_after:
                    reset(sink, is_shared=True)
                    break
                self.sent_up += 0 if is_answer else len(data)
                if self.mode == "cut_up" and self.cut_after <= 0:
                    reset(source if not is_answer else sink, is_shared=True)
                    break
        if is_answer and self.mode == "cut":
            reset(sink, is_shared=True)
        for one in (source, sink):
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
