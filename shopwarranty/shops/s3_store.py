"""Photos and PDFs in a store that speaks S3, chosen by the settings SHOPWARRANTY_S3_*.

Whatever the store answers, the program hears what it would hear of a disk: FileNotFoundError, or an OSError
that names the store. Objects lie under their SHA-256 and are never addressed by a browser.
"""

import errno
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any, Final

from boto3.exceptions import Boto3Error
from botocore import UNSIGNED
from botocore.config import Config
from botocore.exceptions import BotoCoreError, ClientError
from django.core.files.base import File
from storages.backends.s3 import S3Storage

IN_MEMORY: Final = 10 * 1024 * 1024
MISSING: Final = ("404", "NoSuchKey", "NotFound")
# What is kept carries its own SHA-256; stores of other makers refuse the newer checksums of this library.
PATIENCE: Final = {
    "connect_timeout": 5,
    "read_timeout": 30,
    "retries": {"mode": "standard", "total_max_attempts": 3},
    "request_checksum_calculation": "when_required",
    "response_checksum_validation": "when_required",
}


class StoreAway(OSError):
    """The store does not answer, or refuses; `strerror` says which store and why."""

    def __init__(self, where: str, reason: object) -> None:
        super().__init__(errno.EIO, f"The store of files {where}: {reason}")


class S3Store(S3Storage):  # type: ignore[misc] # the library has no types
    def __init__(self, **options: Any) -> None:
        style = "path" if options.get("endpoint_url") else "auto"
        config = Config(signature_version="s3v4", s3={"addressing_style": style}, **PATIENCE)
        super().__init__(client_config=config, default_acl=None, file_overwrite=True, **options)

    @property
    def where(self) -> str:
        return f"{self.bucket_name} at {self.endpoint_url or self.region_name or 'S3'}"

    @contextmanager
    def said_as_a_disk_would(self, name: str) -> Iterator[None]:
        try:
            yield
        except ClientError as error:
            if error.response.get("Error", {}).get("Code") in MISSING:
                raise FileNotFoundError(errno.ENOENT, f"No object {name}") from error
            raise StoreAway(self.where, error) from error
        except (BotoCoreError, Boto3Error) as error:
            raise StoreAway(self.where, error) from error

    def _open(self, name: str, mode: str = "rb") -> "File[bytes]":
        """The whole object at once, so that no reading fails half-way."""
        if mode != "rb":
            raise ValueError("Objects are written by save and never changed.")
        copy = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115 - the reader closes it
        with self.said_as_a_disk_would(name):
            self.connection.meta.client.download_fileobj(self.bucket_name, self._normalize_name(name), copy)
        copy.seek(0)
        return File(copy, name)

    def _save(self, name: str, content: Any) -> str:
        with self.said_as_a_disk_would(name):
            return str(super()._save(name, content))

    def delete(self, name: str) -> None:
        with self.said_as_a_disk_would(name):
            super().delete(name)

    def exists(self, name: str) -> bool:
        with self.said_as_a_disk_would(name):
            return bool(super().exists(name))

    def size(self, name: str) -> int:
        with self.said_as_a_disk_would(name):
            return int(super().size(name))

    def listdir(self, path: str) -> tuple[list[str], list[str]]:
        with self.said_as_a_disk_would(path):
            folders, files = super().listdir(path)
        return folders, files

    def get_modified_time(self, name: str) -> datetime:
        with self.said_as_a_disk_would(name):
            moment: datetime = super().get_modified_time(name)
        return moment

    def all_names(self) -> Iterator[str]:
        """Every object, a thousand a question: folder by folder it would be 65,536 questions."""
        start = f"{self.location.strip('/')}/".lstrip("/")
        pages = self.connection.meta.client.get_paginator("list_objects_v2")
        with self.said_as_a_disk_would(start):
            for page in pages.paginate(Bucket=self.bucket_name, Prefix=start):
                yield from (each["Key"].removeprefix(start) for each in page.get("Contents", ()))

    def strangers_may_read(self, name: str) -> bool:
        """Whether the object is given to somebody who shows no key."""
        config = self.client_config.merge(Config(signature_version=UNSIGNED))
        client = self._create_session().client(
            "s3", region_name=self.region_name, endpoint_url=self.endpoint_url, config=config
        )
        try:
            client.head_object(Bucket=self.bucket_name, Key=self._normalize_name(name))
        except ClientError:
            return False
        return True
