"""An S3 server and a Redis server of the tests' own, each on a free port of this machine only."""

import contextlib
import logging
import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.request import Request, urlopen

import boto3
import pytest
from moto.server import ThreadedMotoServer
from redis import Redis, RedisError

from shopwarranty.checkout.ports import next_free

BUCKET, REGION, FOLDER = "films", "eu-central-1", "shop-a"
KEYS = {"access_key": "known-to-everybody", "secret_key": "known-to-everybody"}


@dataclass(frozen=True, slots=True)
class S3Server:
    address: str

    @property
    def options(self) -> dict[str, str]:
        """As settings.py makes them."""
        place = {"bucket_name": BUCKET, "endpoint_url": self.address, "region_name": REGION}
        return {**place, "location": FOLDER, **KEYS}

    @property
    def variables(self) -> dict[str, str]:
        """The same for a program of its own."""
        names = {
            "bucket_name": "BUCKET",
            "endpoint_url": "ENDPOINT",
            "region_name": "REGION",
            "location": "FOLDER",
            "access_key": "ACCESS_KEY",
            "secret_key": "SECRET_KEY",
        }
        return {f"SHOPWARRANTY_S3_{names[name]}": value for name, value in self.options.items()}

    def client(self) -> "boto3.client":
        keys = {"aws_access_key_id": KEYS["access_key"], "aws_secret_access_key": KEYS["secret_key"]}
        return boto3.client("s3", endpoint_url=self.address, region_name=REGION, **keys)

    def objects(self) -> dict[str, bytes]:
        """Everything in the bucket, read by the maker's own client and not by ours."""
        client = self.client()
        listed = client.list_objects_v2(Bucket=BUCKET).get("Contents", [])
        return {
            each["Key"]: client.get_object(Bucket=BUCKET, Key=each["Key"])["Body"].read() for each in listed
        }


@contextlib.contextmanager
def s3_server() -> Iterator[S3Server]:
    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    running = ThreadedMotoServer("127.0.0.1", port=0, verbose=False)
    running.start()
    try:
        server = S3Server("http://{}:{}".format(*running.get_host_and_port()))
        forgotten = Request(f"{server.address}/moto-api/reset", method="POST")  # what an earlier one kept
        urlopen(forgotten, timeout=20).close()
        server.client().create_bucket(Bucket=BUCKET, CreateBucketConfiguration={"LocationConstraint": REGION})
        yield server
    finally:
        running.stop()


def redis_program() -> str:
    """Debian's redis-tools hold the server under another name; which of them it is, it reads from argv[0]."""
    found = shutil.which("redis-server") or shutil.which("redis-check-rdb")
    if found:
        return found
    reason = "No Redis server here: python3 manage.py test --setup-only"
    if os.environ.get("CI", "").lower() in ("1", "true", "yes"):
        pytest.fail(reason)
    pytest.skip(reason)


@contextlib.contextmanager
def redis_server() -> Iterator[str]:
    """Gives its address (SHOPWARRANTY_QUEUE_URL)."""
    program, port = redis_program(), next_free(46379)
    with tempfile.TemporaryDirectory(prefix="redis-") as folder:
        command = ["redis-server", "--port", str(port), "--bind", "127.0.0.1", "--save", "", "--dir", folder]
        with Path(folder, "log").open("wb") as log:
            running = subprocess.Popen(command, executable=program, stdout=log, stderr=log)
        try:
            wait_for(f"redis://127.0.0.1:{port}/0", running)
            yield f"redis://127.0.0.1:{port}/0"
        finally:
            running.terminate()
            running.wait(20)


def wait_for(address: str, running: "subprocess.Popen[bytes]") -> None:
    deadline = time.monotonic() + 60
    while True:
        try:
            Redis.from_url(address).ping()
        except RedisError:
            assert running.poll() is None and time.monotonic() < deadline, "Redis did not start"
            time.sleep(0.1)
        else:
            return
