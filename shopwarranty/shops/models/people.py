from typing import Any, ClassVar

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager, PermissionsMixin
from django.db import models
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from ..rows import ShopOwned


class UserManager(BaseUserManager["User"]):
    def create_user(self, email: str, password: str | None = None, **more: Any) -> "User":
        user = self.model(email=self.normalize_email(email).lower(), **more)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, password: str | None = None, **more: Any) -> "User":
        return self.create_user(email, password, is_staff=True, is_superuser=True, **more)

    def get_by_natural_key(self, email: str | None) -> "User":
        return self.get(email__iexact=email)


class User(AbstractBaseUser, PermissionsMixin):
    """A person who signs in by e-mail. What they may do in a shop stands in their membership."""

    email = models.EmailField(
        unique=True, error_messages={"unique": _("Somebody already signs in with this address.")}
    )
    name = models.CharField(max_length=120)
    language = models.CharField(max_length=8, blank=True)
    theme = models.CharField(max_length=16, blank=True)
    is_active = models.BooleanField(default=True)
    is_staff = models.BooleanField(_("operator"), default=False)
    date_joined = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[UserManager] = UserManager()
    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(email=Lower("email")), name="user_email_lower_case")
        ]

    def __str__(self) -> str:
        return self.name or self.email


class Member(ShopOwned):
    """A person in one shop, with one or more roles. Deactivated, never deleted: past work keeps the name."""

    user = models.ForeignKey(User, models.PROTECT, null=True, blank=True, related_name="memberships")
    name = models.CharField(max_length=120)
    is_owner = models.BooleanField(_("owner"), default=False)
    is_installer = models.BooleanField(_("installer"), default=False)
    is_desk = models.BooleanField(_("front desk"), default=False)
    pin_hash = models.CharField(max_length=128, blank=True)
    picture_sha256 = models.CharField(max_length=64, blank=True)
    bay_picture = models.CharField(max_length=20, blank=True)
    left_at = models.DateTimeField(null=True, blank=True)
    joined_at = models.DateTimeField()
    # The device of the bay that this member works on at the moment; not stored.
    device: "BayDevice | None" = None

    class Meta:
        ordering = ["name"]
        indexes = [models.Index(fields=["shop", "name"], name="member_by_name")]
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "user"], condition=models.Q(user__isnull=False), name="member_once_a_shop"
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def roles(self) -> frozenset[str]:
        """On a device of the bay everybody may do the same, owners too."""
        if self.device is not None:
            return frozenset({"bay"})
        return frozenset(role for role in ("owner", "installer", "desk") if getattr(self, f"is_{role}"))


class Invitation(ShopOwned):
    """An offer to join a shop, by mail. Only the hash of its token is kept."""

    email = models.EmailField()
    name = models.CharField(max_length=120, blank=True)
    is_owner = models.BooleanField(_("owner"), default=False)
    is_installer = models.BooleanField(_("installer"), default=False)
    is_desk = models.BooleanField(_("front desk"), default=False)
    token_hash = models.CharField(max_length=64, unique=True)
    invited_by = models.ForeignKey(Member, models.PROTECT, null=True, related_name="+")
    invited_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-invited_at"]
        indexes = [models.Index(fields=["shop", "email"], name="invitation_by_email")]


class BayDevice(ShopOwned):
    """A tablet or phone of the bay: members switch on it by picture and PIN; it may record and check only.

    Until it is taken into use, `token_hash` is that of the address which enrols it once; then of its own key.
    """

    name = models.CharField(max_length=60)
    token_hash = models.CharField(max_length=64, unique=True)
    enrolled_by = models.ForeignKey(Member, models.PROTECT, related_name="+")
    enrolled_at = models.DateTimeField()
    used_since = models.DateTimeField(null=True, blank=True)
    last_seen_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["shop", "name"], name="bay_device_by_name")]

    def __str__(self) -> str:
        return self.name


class PhoneReceipt(ShopOwned):
    """An entry that a phone sent was kept, written in the transaction that keeps it: sent again, it is not.

    `onward` is where its sender went on to, should the answer have been lost.
    """

    uid = models.UUIDField(editable=False)
    member = models.ForeignKey(Member, models.PROTECT, related_name="+")
    onward = models.CharField(max_length=300, blank=True)
    kept_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "uid"], name="phone_receipt_one_uid")]
