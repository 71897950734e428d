"""Log lines name no person: paths become their pattern, mail addresses and the database's quotes go.

A path may hold a private token or whatever somebody typed; a traceback may quote the row that broke a rule.
"""

import logging
import re
import time
from typing import Any, Final

MAIL: Final = re.compile(r"[^\s@<>'\"(),;:=\[\]{}]+@[^\s@<>'\"(),;:=\[\]{}]+")
QUOTED_ROW: Final = re.compile(r"^(\s*(?:DETAIL|CONTEXT|PARAMETERS):).*$", re.MULTILINE)
QUERY: Final = re.compile(r"\?[^\s'\"]*=[^\s'\"]*")
LEFT_OUT: Final = "<left out>"


class PatternsNotPaths(logging.Filter):
    """Of a record about a request: "/certificate/<str:number>/" instead of the number that was asked for."""

    def filter(self, record: logging.LogRecord) -> bool:
        request = getattr(record, "request", None)
        path = getattr(request, "path", None)
        if path and isinstance(record.args, tuple):
            record.args = tuple(pattern_of(request) if each == path else each for each in record.args)
        return True


def pattern_of(request: Any) -> str:
    """Of an address that leads nowhere only what stands before the second stroke."""
    found = getattr(request, "resolver_match", None)
    if found is not None and found.route:
        return f"/{found.route}"
    first = request.path.strip("/").partition("/")[0]
    return f"/{first}/{LEFT_OUT}" if "/" in request.path.strip("/") else f"/{LEFT_OUT}"


class NamesNobody(logging.Formatter):
    """Times are UTC; a message is one line, whatever somebody put into it, and only a traceback is more."""

    converter = staticmethod(time.gmtime)
    default_time_format = "%Y-%m-%dT%H:%M:%S"
    default_msec_format = "%s.%03dZ"

    def formatMessage(self, record: logging.LogRecord) -> str:
        return super().formatMessage(record).replace("\r", "\\r").replace("\n", "\\n")

    def format(self, record: logging.LogRecord) -> str:
        line = super().format(record)
        for pattern, put in ((MAIL, LEFT_OUT), (QUOTED_ROW, rf"\1 {LEFT_OUT}"), (QUERY, f"?{LEFT_OUT}")):
            line = pattern.sub(put, line)
        return line
