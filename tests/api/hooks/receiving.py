"""A receiver of webhooks on this machine, as a workshop would run one."""

import contextlib
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


class Receiver:
    """Keeps what it was sent; answers with the next of `answers`, then with 204.

    Attributes:
        got: path, headers and body of each call.
        answers: status, or what to do with the handler.

    """

    def __init__(self, port=0):
        self.got, self.answers = [], []
        self._arrived = threading.Condition()
        receiver = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self):
                body = self.rfile.read(int(self.headers["Content-Length"]))
                answer = receiver.answers.pop(0) if receiver.answers else 204
                if callable(answer):
                    answer(self)
                else:
                    self.send_response(answer)
                    self.send_header("Content-Length", "0")
                    self.end_headers()
                with receiver._arrived:
                    receiver.got.append((self.path, self.headers, body))
                    receiver._arrived.notify_all()

            def log_message(self, *said):
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", port), Handler)
        self._server.daemon_threads = True
        self.port = self._server.server_address[1]
        self.url = f"http://127.0.0.1:{self.port}/orders"
        threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True).start()

    def wait(self, count):
        """Wait until so many calls have come; return them."""
        with self._arrived:
            assert self._arrived.wait_for(lambda: len(self.got) >= count, 240)
        return self.got

    def stop(self):
        """Take no more calls."""
        self._server.shutdown()
        self._server.server_close()


@contextlib.contextmanager
def receiving(port=0):
    """Run a receiver for the length of a block."""
    receiver = Receiver(port)
    try:
        yield receiver
    finally:
        receiver.stop()
