#!/usr/bin/env python3
"""Sets the checkout up, serves it and tests it (quickstart, serve, test); all else belongs to Django.

Readable by old Pythons on purpose, so that it can say which one is needed.
"""

import os
import sys

OLDEST = (3, 11)


def main():  # type: () -> int
    if sys.version_info < OLDEST:
        sys.stderr.write("shopwarranty needs Python %d.%d or newer; " % OLDEST)
        sys.stderr.write("this is %d.%d (%s).\n" % (sys.version_info[0], sys.version_info[1], sys.executable))
        return 2
    if os.name != "posix":
        sys.stderr.write("shopwarranty runs on Linux and macOS; on Windows use the Linux subsystem.\n")
        return 2
    from shopwarranty.checkout.entry import run

    return run(os.path.dirname(os.path.abspath(__file__)), sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
