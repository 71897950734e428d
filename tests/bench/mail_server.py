"""A mail server for the rounds with kills: python -m tests.bench.mail_server PORT FILE SEED.

It takes its time, sometimes says "later", sometimes takes a mail and hangs up without saying so. Every mail
that it takes is one line of the file, written before anybody is told.
"""

import asyncio
import os
import random
import sys
from email import message_from_bytes
from email.policy import default
from pathlib import Path
from typing import Any

from aiosmtpd.smtp import SMTP

LATER, HANGS_UP = 0.06, 0.03
SLOWEST = 0.03


class Box:
    def __init__(self, file: Path, seed: int) -> None:
        self.taken = os.open(file, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
        self.chance = random.Random(seed)

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        await asyncio.sleep(self.chance.uniform(0, SLOWEST))
        mood = self.chance.random()
        if mood < LATER:
            return "451 later please"
        mail = message_from_bytes(envelope.content, policy=default)
        os.write(self.taken, f"{mail['Message-ID']}\n".encode())
        await asyncio.sleep(self.chance.uniform(0, SLOWEST))
        if mood < LATER + HANGS_UP:
            server.transport.abort()
        return "250 taken"


async def serve(port: int, box: Box) -> None:
    loop = asyncio.get_running_loop()
    server = await loop.create_server(
        lambda: SMTP(box, hostname="mail.example", loop=loop), "127.0.0.1", port
    )
    async with server:
        await server.serve_forever()


if __name__ == "__main__":
    asyncio.run(serve(int(sys.argv[1]), Box(Path(sys.argv[2]), int(sys.argv[3]))))
