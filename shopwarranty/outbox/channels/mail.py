"""Mail by SMTP (or as files, in the demo)."""

import smtplib
from email.utils import parseaddr

from django.conf import settings
from django.core.mail import EmailMultiAlternatives, get_connection

from shopwarranty.shops import stored_bytes

from ..models import Message
from .base import Fate, Outcome, call_id

PERMANENT_OF_ADDRESS = range(550, 554)
"""RFC 5321, section 4.2.3: 550, 551 and 553 are about the mailbox; 552 (storage) is not."""


class MailChannel:
    def __init__(self) -> None:
        self.connection = get_connection()

    def send(self, message: Message) -> Outcome:
        try:
            mail = self.compose(message)
        except Exception as error:  # whatever is wrong with this row, the others go out
            return Outcome(Fate.REFUSED, f"cannot be written: {type(error).__name__}: {error}")
        try:
            self.connection.open()
        except (OSError, smtplib.SMTPException) as error:
            return Outcome(Fate.LATER, f"the mail server cannot be reached: {error}")
        return self.speak(mail)

    def speak(self, mail: EmailMultiAlternatives) -> Outcome:
        """What the server answered decides; no answer is not guessed at."""
        try:
            mail.send()
        except smtplib.SMTPRecipientsRefused as error:
            return refused_recipient(error)
        except smtplib.SMTPResponseException as error:
            self.close()
            said = f"{error.smtp_code} {error.smtp_error!r}"
            return Outcome(Fate.LATER if 400 <= error.smtp_code < 500 else Fate.REFUSED, said)
        except Exception as error:  # the connection may have died after the message was taken
            self.close()
            return Outcome(Fate.UNKNOWN, f"connection lost while sending: {error}")
        return Outcome(Fate.SENT)

    def close(self) -> None:
        """A connection on which something went wrong is not used for the next message."""
        try:
            self.connection.close()
        except (OSError, smtplib.SMTPException):
            self.connection = get_connection()

    def compose(self, message: Message) -> EmailMultiAlternatives:
        mail = EmailMultiAlternatives(
            subject=message.subject,
            body=message.text,
            to=[message.to],
            reply_to=[message.shop.email] if message.shop.email else None,
            headers={
                "Auto-Submitted": "auto-generated",
                "Message-ID": message_id(message),
                **message.headers,
            },
            connection=self.connection,
        )
        if message.html:
            mail.attach_alternative(message.html, "text/html")
        for file in message.attachments:
            mail.attach(file["name"], stored_bytes.read(file["sha256"]), file["content_type"])
        mail.message()  # builds it whole, so that a bad header shows before anything is sent
        return mail


def message_id(message: Message) -> str:
    """RFC 5322, section 3.6.4. Made of the fact that is told: a mailbox can see that it has it."""
    _name, address = parseaddr(settings.DEFAULT_FROM_EMAIL)
    return f"<{call_id(message)}@{address.rpartition('@')[2] or 'localhost'}>"


def refused_recipient(error: smtplib.SMTPRecipientsRefused) -> Outcome:
    """4yz: later. 5yz: never; the address is marked when the code speaks of the mailbox."""
    codes = [code for code, _words in error.recipients.values()]
    said = f"address refused: {error.recipients}"
    if codes and all(400 <= code < 500 for code in codes):
        return Outcome(Fate.LATER, said)
    bad = bool(codes) and all(code in PERMANENT_OF_ADDRESS and code != 552 for code in codes)
    return Outcome(Fate.REFUSED, said, bad_address=bad)
