"""Where notices wait for the next page: a cookie named as our others are, else the session."""

from typing import Any

from django.conf import settings
from django.contrib.messages.storage.cookie import CookieStorage
from django.contrib.messages.storage.fallback import FallbackStorage
from django.contrib.messages.storage.session import SessionStorage


class NoticeCookie(CookieStorage):
    def __init__(self, request: Any, *args: Any, **more: Any) -> None:
        super().__init__(request, *args, **more)
        self.cookie_name = f"{settings.COOKIE_PREFIX}messages"


class NoticeStore(FallbackStorage):
    storage_classes = (NoticeCookie, SessionStorage)
