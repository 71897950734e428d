"""Who signs in to the demo shop. Everybody may know this, which is why it never stands beside a real shop."""

from . import sources

SHOP_SLUG = "demo"
PASSWORD = "tack and squeegee 12"  # noqa: S105  (printed by load_demo on purpose)
ROLE_WORDS = {"owner": "owner, installs too", "abel": "installer", "juno": "installer", "desk": "front desk"}

SIGN_INS: tuple[tuple[str, str, str], ...] = tuple(
    (ROLE_WORDS[row["key"]], row["email"], PASSWORD) for row in sources.people()
)
"""(role, e-mail, password)"""


def lines() -> tuple[str, ...]:
    """The sign-ins as they are printed."""
    width = max(len(role) for role, _, _ in SIGN_INS)
    return tuple(f"{role:<{width}}  {email}  {password}" for role, email, password in SIGN_INS)
