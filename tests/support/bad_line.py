"""A bad line between a client and a server: a TCP relay that waits, trickles or cuts, as asked."""

import contextlib
import socket
import struct
import threading
import time
from collections.abc import Iterator

_PIECE = 4096
HEADERS = 700
"""More than the headers of an answer [byte]."""


class BadLine:
    """Relays connections to a server; what is set applies to those made from then on.

    Parameters
    ----------
    port : int
        Of the server, on the loopback interface.
    """

    def __init__(self, port: int) -> None:
        self._port = port
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{self._listener.getsockname()[1]}"
        self.connections = 0
        self.cut_after: list[int] = []
        """Bytes of answer after which a connection is reset: one entry for each of the next connections."""
        self.silence = 0.0
        """Wait before anything of an answer comes [s]."""
        self.trickle = 0.0
        """Wait after every byte of an answer behind its headers [s]."""
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = self._listener.accept()
                self.connections += 1
                cut = self.cut_after.pop(0) if self.cut_after else None
                far = socket.create_connection(("127.0.0.1", self._port))
                forward = threading.Thread(target=self._forward, args=(near, far), daemon=True)
                forward.start()
                threading.Thread(target=self._answer, args=(far, near, cut, forward), daemon=True).start()

    @staticmethod
    def _forward(near: socket.socket, far: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while sent := near.recv(_PIECE):
                far.sendall(sent)
            far.shutdown(socket.SHUT_WR)

    def _answer(self, far: socket.socket, near: socket.socket, cut: int | None, forward: threading.Thread) -> None:
        with contextlib.suppress(OSError):
            passed = 0
            while got := far.recv(_PIECE):
                if self.silence:
                    time.sleep(self.silence)
                if cut is not None and passed + len(got) >= cut:
                    near.sendall(got[: cut - passed])
                    # A linger of nothing makes the close a reset.
                    near.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
                    break
                at_once = max(0, HEADERS - passed) if self.trickle else len(got)
                near.sendall(got[:at_once])
                for begin in range(at_once, len(got)):
                    near.sendall(got[begin : begin + 1])
                    time.sleep(self.trickle)
                passed += len(got)
        # A socket that another thread reads is not closed before that thread lets go of it.
        for end in (near, far):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RD)
        forward.join()
        near.close()
        far.close()

    def close(self) -> None:
        """Take no more connections."""
        self._listener.close()


@contextlib.contextmanager
def bad_line(port: int) -> Iterator[BadLine]:
    """Give a bad line to a server."""
    line = BadLine(port)
    yield line
    line.close()
