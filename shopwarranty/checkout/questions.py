"""What a real shop is asked before its first start."""

import argparse
import getpass
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from . import answers
from .screen import Refusal, Say, interactive, say

Check = Callable[[str], str]
Read = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class FirstShop:
    """An empty password means that the owner gets a sign-in link instead."""

    name: str
    slug: str
    public_url: str
    time_zone: str
    units: str
    legal_profile: str
    owner: str
    password: str = ""

    def options(self) -> tuple[str, ...]:
        """For `add_shop`, without the password: everybody on the machine can see a command line."""
        return (
            *("--slug", self.slug, "--name", self.name, "--owner", self.owner),
            *("--time-zone", self.time_zone, "--units", self.units),
            *("--legal-profile", self.legal_profile, "--public-url", self.public_url),
        )


@dataclass(frozen=True, slots=True)
class Question:
    """`suggest` gets the answers so far; None means that there is nothing to suggest."""

    key: str
    text: str
    check: Check
    suggest: Callable[[Mapping[str, str]], str] | None = None


QUESTIONS: tuple[Question, ...] = (
    Question("name", "Name of the shop, as customers know it", answers.name),
    Question("slug", "Its name in addresses", answers.slug, lambda so_far: answers.slug_from(so_far["name"])),
    Question(
        "public_url",
        "Public https address (may stay empty for now, but nothing can be handed over before)",
        answers.public_url,
        lambda _: "",
    ),
    Question("time_zone", "Time zone", answers.time_zone, lambda _: answers.time_zone_here()),
    Question("units", "Units: metric (C, mm) or us (F, inches)", answers.units, lambda _: "metric"),
    Question(
        "legal_profile", "Law that certificates follow: us or other", answers.legal_profile, lambda _: "other"
    ),
    Question("owner", "The owner's e-mail address, to sign in with", answers.email),
)


NOTHING_GIVEN = argparse.Namespace()


@dataclass(frozen=True, slots=True)
class Terminal:
    """Where answers come from. Without `read` nobody can be asked."""

    read: Read | None
    read_hidden: Read
    tell: Say = say


def this_terminal() -> Terminal:
    return Terminal(input if interactive() else None, getpass.getpass)


def ask_for_shop(
    options: argparse.Namespace, password: str, terminal: Terminal, before: FirstShop | None = None
) -> FirstShop:
    """Options are checked, the rest is asked for; without a person, suggestions are taken.

    After a refusal `before` holds the earlier answers, which then are what is suggested.
    """
    so_far: dict[str, str] = {}
    for question in QUESTIONS:
        typed = getattr(options, question.key, None)
        so_far[question.key] = answer(question, typed, suggestion(question, so_far, before), terminal)
    return FirstShop(**so_far, password=password_for(password, terminal))


def suggestion(question: Question, so_far: Mapping[str, str], before: FirstShop | None) -> str | None:
    if before:
        return str(getattr(before, question.key))
    return question.suggest(so_far) if question.suggest else None


def answer(question: Question, typed: str | None, suggestion: str | None, terminal: Terminal) -> str:
    if typed is not None:
        return check_option(question, typed)
    if terminal.read:
        return ask(question, suggestion or "", terminal.read, terminal.tell)
    if suggestion is None:
        raise Refusal(f"Nobody can be asked here, so please give {option(question)} as well.")
    return suggestion


def check_option(question: Question, typed: str) -> str:
    try:
        return question.check(typed.strip())
    except answers.Wrong as wrong:
        raise Refusal(f"{option(question)}: {wrong}") from wrong


def ask(question: Question, suggestion: str, read: Read, tell: Say) -> str:
    shown = f"{question.text} [{suggestion}]: " if suggestion else f"{question.text}: "
    while True:
        try:
            return question.check(read(shown).strip() or suggestion)
        except answers.Wrong as wrong:
            tell("", str(wrong))


def password_for(given: str, terminal: Terminal) -> str:
    if given:
        try:
            return answers.password(given)
        except answers.Wrong as wrong:
            raise Refusal(f"The owner's password: {wrong}") from wrong
    return ask_password(terminal) if terminal.read else ""


def ask_password(terminal: Terminal) -> str:
    while True:
        try:
            first = answers.password(terminal.read_hidden("Password to sign in with: "))
        except answers.Wrong as wrong:
            terminal.tell("", str(wrong))
            continue
        if terminal.read_hidden("The same again: ") == first:
            return first
        terminal.tell("", "The two were not the same.")


def option(question: Question) -> str:
    return f"--{question.key.replace('_', '-')}"
