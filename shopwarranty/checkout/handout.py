"""Handing the authority's certificate to phones over plain http: it is public, and its key stays here."""

import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path


def start(certificate: Path, host: str, port: int) -> ThreadingHTTPServer:
    content = certificate.read_bytes()

    class Handout(BaseHTTPRequestHandler):
        """Answers every address with the one file."""

        timeout = 10

        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("Content-Type", "application/x-x509-ca-cert")
            self.send_header("Content-Disposition", 'attachment; filename="bay-authority.crt"')
            self.send_header("Content-Length", str(len(content)))
            self.end_headers()
            self.wfile.write(content)

        def log_message(self, format: str, *args: object) -> None:
            """Nothing to keep: the file is public."""

    server = ThreadingHTTPServer((host, port), Handout)
    server.daemon_threads = True
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return server
