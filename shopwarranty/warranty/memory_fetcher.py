"""The PDF renderer gets what it asks for from memory, or nothing at all: no file, no host, no exception."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

SCHEME: Final = "memory:"


@dataclass(frozen=True, slots=True)
class Resource:
    content: bytes
    content_type: str


class NotInMemory(Exception):
    """The document asked for something it was not given; nothing was printed."""


class MemoryFetcher(URLFetcher):  # type: ignore[misc]
    """A refusal ends the rendering: a resource that cannot be had must not just be missing from a promise."""

    def __init__(self, resources: Mapping[str, Resource]) -> None:
        super().__init__(allowed_protocols=(), allow_redirects=False, fail_on_errors=True)
        self.resources = resources

    def fetch(self, url: str, headers: Mapping[str, str] | None = None) -> URLFetcherResponse:
        resource = self.resources.get(url)
        if resource is None:
            raise FatalURLFetchingError(f"refused: {url[:200]}")
        return URLFetcherResponse(url, resource.content, {"Content-Type": resource.content_type})
