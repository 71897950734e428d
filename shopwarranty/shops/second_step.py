"""The second step of signing in: a code from a phone, or a recovery code that works once."""

import secrets
from base64 import b32encode
from typing import Any, Final

import segno
from django.db import transaction
from django_otp import devices_for_user, match_token
from django_otp.plugins.otp_static.models import StaticDevice
from django_otp.plugins.otp_totp.models import TOTPDevice

from .models import User

DONE: Final = "second_step_done"  # in the session, once the code was right
RECOVERY_CODES: Final = 10


def is_set_up(user: User) -> bool:
    return bool(TOTPDevice.objects.filter(user=user, confirmed=True).exists())


def is_right(user: User, code: str) -> bool:
    """A wrong code makes the next ones wait, longer each time; a recovery code is used up."""
    return match_token(user, "".join(code.split())) is not None


def being_set_up(user: User) -> TOTPDevice:
    """The secret that is shown until a first code proves that the phone has it."""
    device: TOTPDevice = TOTPDevice.objects.get_or_create(
        user=user, confirmed=False, defaults={"name": "phone"}
    )[0]
    return device


def secret_of(device: TOTPDevice) -> str:
    """As it is typed by hand, in groups of four."""
    text = b32encode(device.bin_key).decode().rstrip("=")
    return " ".join(text[at : at + 4] for at in range(0, len(text), 4))


def picture_of(device: TOTPDevice) -> str:
    """What the phone's program reads: RFC 6238 secrets in a QR code, as SVG."""
    code = segno.make(device.config_url, error="m")
    return str(code.svg_inline(scale=5, border=4, light="#fff", svgclass="qr", title="QR"))


@transaction.atomic
def finish(user: User, code: str) -> list[str]:
    """Gives the recovery codes, which are shown once; none when the code was not right."""
    device = being_set_up(user)
    if not device.verify_token("".join(code.split())):
        return []
    TOTPDevice.objects.filter(user=user, confirmed=True).delete()
    device.confirmed = True
    device.save()
    return new_recovery_codes(user)


@transaction.atomic
def new_recovery_codes(user: User) -> list[str]:
    """Those from before no longer work."""
    StaticDevice.objects.filter(user=user).delete()
    device = StaticDevice.objects.create(user=user, name="recovery")
    codes = [secrets.token_hex(5) for _each in range(RECOVERY_CODES)]
    for code in codes:
        device.token_set.create(token=code)
    return [f"{code[:5]} {code[5:]}" for code in codes]


def take_away(user: User) -> None:
    for device in devices_for_user(user, confirmed=None):
        device.delete()


def codes_left(user: User) -> int:
    return sum(device.token_set.count() for device in StaticDevice.objects.filter(user=user))


def was_done(request: Any) -> bool:
    return bool(request.session.get(DONE))
